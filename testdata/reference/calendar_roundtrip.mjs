// Reads an iCalendar file with ical.js, an independent parser from the npm
// registry, and prints its events as JSON.
//   node calendar_roundtrip.mjs FOLDER_WITH_NODE_MODULES FILE
import { createRequire } from 'node:module';
import { readFileSync } from 'node:fs';
import { join } from 'node:path';
import { pathToFileURL } from 'node:url';

const [folder, file] = process.argv.slice(2);
const require = createRequire(pathToFileURL(join(folder, 'x.js')));
const loaded = await import(pathToFileURL(require.resolve('ical.js')));
const ICAL = loaded.default ?? loaded;

const root = new ICAL.Component(ICAL.parse(readFileSync(file, 'utf8')));
const events = root.getAllSubcomponents('vevent').map((c) => {
  const e = new ICAL.Event(c);
  return {
    UID: e.uid,
    Summary: e.summary,
    Description: e.description,
    Start: e.startDate.toString(),
    End: e.endDate.toString(),
    Floating: e.startDate.zone === ICAL.Timezone.localTimezone,
    Alarms: c.getAllSubcomponents('valarm').map((a) => a.getFirstPropertyValue('trigger').toString()),
  };
});
console.log(JSON.stringify(events));
