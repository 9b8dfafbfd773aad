// Package busy reads a person's calendar in the iCalendar format (RFC 5545) and
// says when that person is busy, so that tests are not planned over appointments.
//
// Read takes the bytes of one file and a window, and returns the spans in which
// an event that counts as busy overlaps the window. It opens no file, changes
// no input and never panics over what a file holds: everything wrong in it is
// returned as a problem.List with line numbers.
//
// # What counts as busy
//
// Every VEVENT, unless it is cancelled (STATUS:CANCELLED), shown as free
// (TRANSP:TRANSPARENT) or an instant (a timed event with neither DTEND nor
// DURATION, or of length zero, section 3.6.1). To-dos, journals and free/busy
// components are skipped. What was left out is counted in Calendar.Notes.
//
// # Recurrence
//
// Rules run on the clock on the wall of the zone of DTSTART, as section 3.8.5.3
// asks: a lunch at 12:00 stays at 12:00 when the clocks change, and a rule
// repeating within the day follows the clock too. DTSTART is always the first
// occurrence. An occurrence at a time that the clocks skip is left out and not
// counted (section 3.3.10); a time that occurs twice means the first one
// (section 3.3.5). Endless rules are followed only within the window, and
// rules by the second or minute are allowed; the work is bounded, and a file
// that would exceed the bounds (MaxBytes, MaxOccurrences, or a counted rule of
// millions of steps) is refused with a problem that says so.
//
// # Why a parser and an expander of our own
//
// The module's calendar library writes files well, but it reports a broken line
// by the count of unfolded lines, or by none inside an event, takes "?!DTSTART:1"
// for DTSTART, knows property names in capitals only, and leaves recurrence,
// VTIMEZONE and lists of EXDATE to its caller. The recurrence library at hand
// panics on FREQ=MONTHLY;BYDAY=53MO, never returns from an hourly rule whose
// BYHOUR its INTERVAL never meets, walks each rule from its first occurrence,
// and moves times that the clocks skip. A person's file must do none of that.
package busy
