// Read calendar files with ical.js and print their occurrences as JSON, one file a line.
import { readFileSync } from "node:fs";
import ICAL from "ical.js";

function said(time) {
  if (time.isDate) return time.toString();
  if (time.zone === ICAL.Timezone.localTimezone) throw new Error(`${time} floats`);
  return time.toJSDate().toISOString().replace(".000Z", "Z");
}

for (const name of process.argv.slice(2)) {
  const calendar = new ICAL.Component(ICAL.parse(readFileSync(name, "utf8")));
  ICAL.TimezoneService.reset();
  for (const zone of calendar.getAllSubcomponents("vtimezone")) ICAL.TimezoneService.register(zone);
  const found = calendar.getAllSubcomponents("vevent").map((part) => {
    const event = new ICAL.Event(part, { strictExceptions: true });
    return [event.uid, said(event.startDate), said(event.endDate), part.getFirstPropertyValue("status") ?? ""];
  });
  console.log(JSON.stringify(found));
}
