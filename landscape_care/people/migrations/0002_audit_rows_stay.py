"""The database itself refuses to change a row of the audit log.

SQLite guards against changes only: emptying whole tables is how Django resets a SQLite test
database, and whoever can write the file can do anything with it. PostgreSQL refuses deletion too.
"""

from django.db import migrations

_SQLITE = (
    "CREATE TRIGGER audit_entry_stays BEFORE UPDATE ON people_auditentry "
    "BEGIN SELECT RAISE(ABORT, 'a row of the audit log is never changed'); END"
)
_POSTGRES = """
CREATE FUNCTION audit_entry_stays() RETURNS trigger LANGUAGE plpgsql AS
$$ BEGIN RAISE EXCEPTION 'a row of the audit log is never changed' USING ERRCODE = 'restrict_violation'; END $$;
CREATE TRIGGER audit_entry_stays BEFORE UPDATE OR DELETE ON people_auditentry
FOR EACH ROW EXECUTE FUNCTION audit_entry_stays();
"""


def guard(apps, schema_editor):
    schema_editor.execute(_POSTGRES if schema_editor.connection.vendor == "postgresql" else _SQLITE)


def unguard(apps, schema_editor):
    if schema_editor.connection.vendor == "postgresql":
        schema_editor.execute("DROP TRIGGER audit_entry_stays ON people_auditentry")
        schema_editor.execute("DROP FUNCTION audit_entry_stays()")
    else:
        schema_editor.execute("DROP TRIGGER audit_entry_stays")


class Migration(migrations.Migration):
    dependencies = [("people", "0001_initial")]

    operations = [migrations.RunPython(guard, unguard)]
