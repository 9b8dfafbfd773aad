package protocol

import (
	"bytes"
	"text/template"
)

var starterText = template.Must(template.New("").Parse(`# A food experiment on one person. Everything after a # is a comment.
# Check it with: mealtrial check      Draw the schedule with: mealtrial plan
format: 1
title: My food swaps

# Before the first test: read mealtrial cautions, and answer honestly. With a
# yes, plan asks for the licensed clinician who agreed (advised_by: …).
safety:
  glucose_lowering_medication: no
  pregnancy: no
  eating_disorder: no
  ketoacidosis_before: no

# The zone of every time of day in this study, from the IANA time zone database,
# such as Europe/Vienna or America/Chicago. Name yours:
zone: UTC

# The one number taken from each test: peak_rise (highest reading in the window
# minus the baseline) or iauc (area above the baseline). Unit: mg/dL or mmol/L.
endpoint: {name: peak_rise, unit: mg/dL, window: 120m, baseline: 15m}

# When a curve counts: readings at most max_gap apart are joined, and they must
# cover min_coverage of the window. With finger-sticks: max_gap: 45m.
quality: {max_gap: 20m, min_coverage: 0.8}

# The smallest difference that matters to you, in the endpoint's unit. Decide it
# before the first test.
margin: 8

# What is compared. Roles: test (the default), reference (the food repeated
# through the whole study), blank (plain water, measures the floor).
foods:
  - {id: bread, name: white bread, role: reference, portion: 2 slices}
  - {id: rye, name: rye bread, portion: 2 slices}
  - {id: oats, name: rolled oats, portion: 60 g dry}

# What you want to know. The answer to "rye vs bread" is rye minus bread.
questions:
  - rye vs bread
  - oats vs bread

# Noted besides, as secondary outcomes (kinds: rating 0 to 10, event yes or no,
# ketones in mmol/L, weight, number):
# outcomes:
#   - {id: bloating, kind: rating, time: same evening}
#   - {id: buy_again, kind: event}

# When tests may be held. Each food is eaten once in each of the repeats, in
# random order, with washout days kept free between two tests.
plan:
  start: {{.Start}}
  until: {{.Until}}
  repeats: 3
  washout: 1
  time: "07:30"
  # weekdays: [mon, tue, wed, thu, fri]
  # busy: [{{.Busy}}]

# How the sensor's exports in readings/ are to be read; what is not said here is
# guessed from the files and shown by mealtrial check.
# readings: {time_column: Time, glucose_column: Glucose, unit: mg/dL}
`))

// Starter returns the text of a commented study file that can be planned as it
// stands, from the Monday after today on.
func Starter(today Date) []byte {
	start := nextMonday(today)
	var b bytes.Buffer
	err := starterText.Execute(&b, struct{ Start, Until, Busy Date }{start, start + 32, start + 9})
	if err != nil {
		panic("protocol: starter template: " + err.Error())
	}
	return b.Bytes()
}
