"""The words of calendars in English and Spanish."""

from collections.abc import Mapping
from datetime import date

from landscape_care.care.cautions import cautions

WORDS: Mapping[str, Mapping[str, str]] = {
    "en": {
        "visit": "Garden visit",
        "task_one": "1 task",
        "tasks": "{count} tasks",
        "done_mark": "✓ {title}",
        "cancelled_title": "Cancelled: {title}",
        "moved": "Moved from {day}.",
        "arrival": "We come between {first} and {last}; the work takes about {minutes} minutes.",
        "will_do": "What we will do:",
        "was_done": "What was done:",
        "not_done": "Not done this time:",
        "expect": "What to expect:",
        "leave_open": "Please leave open:",
        "way_in": "The way to the garden; pets indoors.",
        "water_on": "The tap or main valve that feeds the garden, turned on.",
        "power_on": "The way to the outlet, timer and transformer.",
        "expect_water": "Sprinklers may run for a few minutes, zone by zone.",
        "expect_feature": "Pump and falling water may rest for a while.",
        "expect_lights": "Garden lights may burn for a moment in daylight.",
        "expect_plants": "Blades and clippings may lie about until we sweep up.",
        "expect_product": "A garden product is used: keep children and pets away until we say it is safe.",
        "expect_dust": "Stone or sand makes some dust: close windows nearby.",
        "expect_test": "Water to the garden is off during the test.",
        "off": "This visit is cancelled. Nobody comes on {day}.",
        "off_returns": "If it is planned again, it shows up here.",
        "why": "Reason: {reason}",
        "note_off": "This is no longer planned.",
        "note_skipped": "This was not done this time.",
        "window": "Planned between {first} and {last}.",
        "program_irrigation": "New irrigation program",
        "program_lighting": "New light timer setting",
        "no_visit": "Care calendar set up, no visit planned yet",
        "no_visit_text": "This calendar works. Visits and seasonal care show up here once they are planned.",
        "no_stop": "Calendar set up, no stops published yet",
        "no_stop_text": "This calendar works. Stops show up here once a month is published.",
        "another_day": "To ask for another day: {url}",
        "window_calendar": "Care windows: {name}",
        "window_calendar_text": "Every piece of care that is due, over the days on which it may be done. "
        "Visits are in another calendar.",
        "todo_calendar": "Care to do: {name}",
        "todo_calendar_text": "Every piece of care that is due, as a list to do. "
        "Programs that show calendars alone show nothing of it.",
        "window_done": "Done on {day}.",
        "crew_day": "Crew day, {name}",
        "crew_day_text": "Codes, check-off and changes of the day: {url}",
        "skipped_box": "[not done] {title}",
        "done_box": "[x] {title}",
        "open_box": "[ ] {title}, {minutes} min",
        "with_people": "{count} people",
        "access": "Access {first} to {last} · {note}",
        "cautions": "Take care:",
        "leave_set": "Leave set:",
        "check_off": "Check off: {url}",
        "code_hidden": "(code: see the crew page)",
        "crew": "Crew: {name}",
        "unassigned": "No day yet: {name}",
        "unassigned_text": "To be done between {first} and {last}, about {minutes} minutes in all.",
        "owner_calendar": "Garden care: {name}",
        "owner_calendar_text": "Visits, seasonal care and program changes. Each calendar program reads it "
        "when it likes, some only once a day; we tell you of urgent changes directly.",
        "crew_calendar": "Stops: {name}",
        "crew_calendar_text": "Stops in order. Codes and check-off are on the crew page.",
        "office_calendar": "All visits: {name}",
        "office_calendar_text": "Visits of all crews, and visits that have no day yet.",
        "cut": "Shows the {count} entries nearest to today; {left} more are left out.",
        "category_visit": "Visit",
        "category_season": "Care season",
        "category_irrigation": "Irrigation",
        "category_water_feature": "Water feature",
        "category_lighting": "Lighting",
    },
    "es": {
        "visit": "Visita al jardín",
        "task_one": "1 tarea",
        "tasks": "{count} tareas",
        "done_mark": "✓ {title}",
        "cancelled_title": "Cancelada: {title}",
        "moved": "Cambió de fecha; antes: {day}.",
        "arrival": "Llegamos entre las {first} y las {last}; el trabajo dura unos {minutes} minutos.",
        "will_do": "Lo que haremos:",
        "was_done": "Lo que se hizo:",
        "not_done": "Esta vez quedó sin hacer:",
        "expect": "Qué esperar:",
        "leave_open": "Por favor deje libre:",
        "way_in": "El paso al jardín; las mascotas, adentro.",
        "water_on": "La llave de agua del jardín, abierta.",
        "power_on": "El paso al contacto, al temporizador y al transformador.",
        "expect_water": "El riego puede correr unos minutos, zona por zona.",
        "expect_feature": "La bomba y la caída de agua pueden descansar un rato.",
        "expect_lights": "Las luces del jardín pueden encenderse un momento de día.",
        "expect_plants": "Puede haber herramientas de corte y ramas en el suelo hasta que barramos.",
        "expect_product": "Se usa un producto de jardín: niños y mascotas lejos hasta que avisemos.",
        "expect_dust": "La piedra o la arena sueltan algo de polvo: cierre las ventanas cercanas.",
        "expect_test": "El jardín queda sin agua durante la prueba.",
        "off": "Esta visita se canceló. Nadie va el {day}.",
        "off_returns": "Si se vuelve a programar, aparecerá aquí.",
        "why": "Motivo: {reason}",
        "note_off": "Esto ya no está previsto.",
        "note_skipped": "Esta vez no se hizo.",
        "window": "Previsto entre el {first} y el {last}.",
        "program_irrigation": "Nuevo programa de riego",
        "program_lighting": "Nuevo horario de las luces",
        "no_visit": "Calendario listo, todavía sin visitas",
        "no_visit_text": "El calendario funciona. Aquí aparecerán las visitas y los cuidados de temporada.",
        "no_stop": "Calendario listo, todavía sin paradas",
        "no_stop_text": "El calendario funciona. Aquí aparecerán las paradas cuando se publique un mes.",
        "another_day": "Para pedir otro día: {url}",
        "window_calendar": "Plazos de cuidado: {name}",
        "window_calendar_text": "Todo lo que toca hacer, sobre los días en que puede hacerse. "
        "Las visitas están en otro calendario.",
        "todo_calendar": "Cuidados por hacer: {name}",
        "todo_calendar_text": "Todo lo que toca hacer, como lista de tareas. "
        "Los programas que solo muestran calendarios no muestran nada de ella.",
        "window_done": "Hecho el {day}.",
        "crew_day": "Día de cuadrilla, {name}",
        "crew_day_text": "Claves, lista y cambios del día: {url}",
        "skipped_box": "[sin hacer] {title}",
        "done_box": "[x] {title}",
        "open_box": "[ ] {title}, {minutes} min",
        "with_people": "{count} personas",
        "access": "Entrada de {first} a {last} · {note}",
        "cautions": "Con cuidado:",
        "leave_set": "Dejar ajustado:",
        "check_off": "Marcar lo hecho: {url}",
        "code_hidden": "(clave: en la página de la cuadrilla)",
        "crew": "Cuadrilla: {name}",
        "unassigned": "Sin fecha: {name}",
        "unassigned_text": "Entre el {first} y el {last}, unos {minutes} minutos en total.",
        "owner_calendar": "Cuidado del jardín: {name}",
        "owner_calendar_text": "Visitas, cuidados de temporada y cambios de programa. Cada aplicación lo lee "
        "a su ritmo, algunas una vez al día; los cambios urgentes se los decimos directamente.",
        "crew_calendar": "Paradas: {name}",
        "crew_calendar_text": "Paradas en orden. Las claves y la lista están en la página de la cuadrilla.",
        "office_calendar": "Todas las visitas: {name}",
        "office_calendar_text": "Visitas de todas las cuadrillas y visitas todavía sin fecha.",
        "cut": "Muestra las {count} entradas más cercanas a hoy; faltan {left}.",
        "category_visit": "Visita",
        "category_season": "Cuidado de temporada",
        "category_irrigation": "Riego",
        "category_water_feature": "Fuente",
        "category_lighting": "Iluminación",
    },
}
_WEEKDAYS = {
    "en": ("Mon", "Tue", "Wed", "Thu", "Fri", "Sat", "Sun"),
    "es": ("lun", "mar", "mié", "jue", "vie", "sáb", "dom"),
}
_MONTHS = {
    "en": ("Jan", "Feb", "Mar", "Apr", "May", "Jun", "Jul", "Aug", "Sep", "Oct", "Nov", "Dec"),
    "es": ("ene", "feb", "mar", "abr", "may", "jun", "jul", "ago", "sep", "oct", "nov", "dic"),
}


def say(language: str, key: str, **values: object) -> str:
    """Return one text with its values put in."""
    return WORDS[language][key].format(**values)


def say_day(language: str, day: date) -> str:
    """Return a day such as 'Tue 3 Mar'."""
    return f"{_WEEKDAYS[language][day.weekday()]} {day.day} {_MONTHS[language][day.month - 1]}"


def say_count(language: str, count: int) -> str:
    """Return a number of tasks in words."""
    return say(language, "task_one") if count == 1 else say(language, "tasks", count=count)


def say_caution(language: str, code: str) -> str:
    """Return a caution with its title; a code without words stands for itself."""
    known = cautions().get(code)
    return ": ".join(known.in_language(language)) if known else code
