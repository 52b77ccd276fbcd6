// Reads calendars as a JavaScript client does, with npm ical.js, and says what it understood.
//
//   node expand.mjs FOLDER < calendars.json > answers.json
//
// FOLDER holds node_modules/ical.js. Input: [{ics, until, walls}], `until` in seconds since 1970 (occurrences that
// start before it are listed), `walls` a list of [tzid, "YYYY-MM-DDTHH:MM:SS"]. Output, one for each calendar:
// {events: [[uid, start, end, status, sequence, summary]], offsets: [seconds east of UTC]}, times in seconds.

import { readFileSync } from "node:fs";
import { createRequire } from "node:module";
import { join, resolve } from "node:path";
import { pathToFileURL } from "node:url";

const require = createRequire(join(resolve(process.argv[2]), "package.json"));
const ICAL = (await import(pathToFileURL(require.resolve("ical.js")))).default;

function described(event, start, end) {
  const status = event.component.getFirstPropertyValue("status");
  return [event.uid, start.toUnixTime(), end.toUnixTime(), status, event.sequence, event.summary];
}

function eventsOf(calendar, until) {
  const components = calendar.getAllSubcomponents("vevent");
  const found = [];
  for (const component of components) {
    if (component.hasProperty("recurrence-id")) continue;
    const uid = component.getFirstPropertyValue("uid");
    const exceptions = components.filter(
      (other) => other.hasProperty("recurrence-id") && other.getFirstPropertyValue("uid") === uid,
    );
    const event = new ICAL.Event(component, { exceptions });
    if (!event.isRecurring()) {
      found.push(described(event, event.startDate, event.endDate));
      continue;
    }
    const iterator = event.iterator();
    for (let next = iterator.next(); next; next = iterator.next()) {
      // A moved session may start long before the place it was moved from, so the rule is followed a year further.
      if (next.toUnixTime() >= until + 366 * 86400) break;
      const details = event.getOccurrenceDetails(next);
      found.push(described(details.item, details.startDate, details.endDate));
    }
  }
  return found.filter((event) => event[1] < until);
}

function offsetsOf(calendar, walls) {
  return walls.map(([tzid, wall]) => calendar.getTimeZoneByID(tzid).utcOffset(ICAL.Time.fromDateTimeString(wall)));
}

const answers = JSON.parse(readFileSync(0, "utf8")).map(({ ics, until, walls }) => {
  const calendar = new ICAL.Component(ICAL.parse(ics));
  return { events: eventsOf(calendar, until), offsets: offsetsOf(calendar, walls ?? []) };
});
process.stdout.write(JSON.stringify({ node: process.version, answers }));
