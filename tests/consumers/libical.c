/* Read calendar files with libical and print their occurrences, tab between columns, "." after a file.
   Errors of the parser and of its restriction check (RFC 5546 and RFC 5545, 3.6) are printed as "!". */
#include <libical/ical.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

static char *whole(const char *name)
{
    FILE *file = fopen(name, "rb");
    if (!file) { perror(name); exit(2); }
    fseek(file, 0, SEEK_END);
    long size = ftell(file);
    rewind(file);
    char *text = malloc((size_t)size + 1);
    if (fread(text, 1, (size_t)size, file) != (size_t)size) exit(2);
    text[size] = 0;
    fclose(file);
    return text;
}

static void complain(icalcomponent *component)
{
    icalproperty *each = icalcomponent_get_first_property(component, ICAL_XLICERROR_PROPERTY);
    for (; each; each = icalcomponent_get_next_property(component, ICAL_XLICERROR_PROPERTY))
        printf("!\t%s\n", icalproperty_get_xlicerror(each));
    icalcomponent *part = icalcomponent_get_first_component(component, ICAL_ANY_COMPONENT);
    for (; part; part = icalcomponent_get_next_component(component, ICAL_ANY_COMPONENT))
        complain(part);
}

static void say(struct icaltimetype at)
{
    if (at.is_date) {
        printf("\t%04d-%02d-%02d", at.year, at.month, at.day);
        return;
    }
    if (!icaltime_get_timezone(at)) { printf("\tfloats"); return; }
    struct icaltimetype utc = icaltime_convert_to_zone(at, icaltimezone_get_utc_timezone());
    printf("\t%04d-%02d-%02dT%02d:%02d:%02dZ", utc.year, utc.month, utc.day, utc.hour, utc.minute, utc.second);
}

/* Without METHOD less is asked for, so it is checked once more with what only PUBLISH has to have. */
static void check_as_published(const char *text)
{
    icalcomponent *copy = icalparser_parse_string(text);
    icalcomponent_add_property(copy, icalproperty_new_method(ICAL_METHOD_PUBLISH));
    icalcomponent *each = icalcomponent_get_first_component(copy, ICAL_VEVENT_COMPONENT);
    for (; each; each = icalcomponent_get_next_component(copy, ICAL_VEVENT_COMPONENT))
        icalcomponent_add_property(each, icalproperty_new_organizer("mailto:office@care.example.com"));
    icalrestriction_check(copy);
    complain(copy);
    icalcomponent_free(copy);
}

int main(int count, char **names)
{
    icalerror_set_errors_are_fatal(0);
    ical_set_unknown_token_handling_setting(ICAL_TREAT_AS_ERROR);
    for (int n = 1; n < count; n++) {
        char *text = whole(names[n]);
        icalcomponent *calendar = icalparser_parse_string(text);
        if (!calendar) { printf("!\tno calendar\n.\n"); continue; }
        /* Each fault becomes a property X-LIC-ERROR. */
        icalrestriction_check(calendar);
        complain(calendar);
        /* A list to do that is sent by PUBLISH has a priority besides, which ours has not. */
        if (!icalcomponent_count_components(calendar, ICAL_VTODO_COMPONENT))
            check_as_published(text);
        icalcomponent *each = icalcomponent_get_first_component(calendar, ICAL_VEVENT_COMPONENT);
        for (; each; each = icalcomponent_get_next_component(calendar, ICAL_VEVENT_COMPONENT)) {
            printf("%s", icalcomponent_get_uid(each));
            say(icalcomponent_get_dtstart(each));
            say(icalcomponent_get_dtend(each));
            printf("\t%s\n", icalproperty_status_to_string(icalcomponent_get_status(each)));
        }
        printf(".\n");
        icalcomponent_free(calendar);
        free(text);
    }
    return 0;
}
