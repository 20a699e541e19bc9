FROM python:3.11-slim-bookworm AS packages
WORKDIR /app
COPY requirements.txt .
RUN python -m venv /app/.venv \
 && /app/.venv/bin/pip install --quiet --no-cache-dir --require-hashes -r requirements.txt

FROM python:3.11-slim-bookworm
RUN useradd --system --uid 10001 --home-dir /app care && install -d -o care -g care /var/lib/landscape-care
WORKDIR /app
COPY --from=packages /app/.venv /app/.venv
COPY manage.py ./
COPY landscape_care landscape_care
COPY templates templates
ENV PATH=/app/.venv/bin:$PATH \
    PYTHONUNBUFFERED=1 \
    LANDSCAPE_CARE_ENVIRONMENT=given \
    LANDSCAPE_CARE_DATA=/var/lib/landscape-care \
    NUMBA_CACHE_DIR=/var/lib/landscape-care/compiled
# Names and compresses the static files; needs no database, and the keys of this one step are thrown away.
RUN export LANDSCAPE_CARE_DATA=/tmp/build \
 && FIELD_KEY="$(python manage.py newkey)" && export FIELD_KEY \
 && LANDSCAPE_CARE_MODE=production SECRET_KEY=build ALLOWED_HOSTS=build SITE_URL=https://build \
    python manage.py collectstatic --noinput --verbosity 0 \
 && rm -rf /tmp/build
USER care
ENV LANDSCAPE_CARE_MODE=production
EXPOSE 8000
CMD ["python", "-m", "gunicorn", "--bind", "0.0.0.0:8000", "--workers", "2", "--threads", "4", \
     "--timeout", "60", "landscape_care.config.wsgi:application"]
