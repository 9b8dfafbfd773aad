package page

// An item is one of the checklist for reports of trials on one person, and where
// the page has it.
type item struct {
	number, what string
	at           string // the id of the section; "" where it is missing
	note         string
}

// items is the checklist of CENT 2015 (Vohra et al. 2015, BMJ 350:h1738; Shamseer
// et al. 2015, BMJ 350:h1793): 25 items, 44 with the parts of items. The wording is ours; items up to 5 were looked up,
// the others are from memory.
func (b builder) items() Table {
	t := Table{Caption: "Items of the checklist and where they stand on this page", Columns: []Column{column("Item"), column("What a report must say"), column("Where"), column("Note")}}
	for _, x := range b.checklist() {
		where := Cell{Text: "missing", Given: true}
		if x.at != "" {
			where = Cell{Text: sections[x.at], Given: true, Link: "#" + x.at}
		}
		t.add(text(x.number), text(x.what), where, text(x.note))
	}
	return t
}

// sections are the headings by their ids.
var sections = map[string]string{
	"answers": "Answers", "foods": "Each food's tests", "curves": "Curves", "order": "Order of the tests", "schedule": "Schedule",
	"robustness": "Does it hold?", "retest": "Is a retest needed?", "deviations": "Deviations and exclusions", "methods": "Methods", "cautions": "Cautions", "differences": "Differences", "notes": "What to keep in mind",
}

func (b builder) checklist() []item {
	masked, maskedNote := "", "foods were not masked, or the log does not say so"
	for _, test := range b.in.Folder.Log.Tests {
		if test.Masked {
			masked, maskedNote = "schedule", "tests were logged by code; add how alike the foods looked and tasted"
		}
	}
	order, orderNote := "methods", ""
	if b.in.Folder.Schedule == nil {
		order, orderNote = "", "no order was drawn"
	}
	const byHand = "not in the study file; add it by hand"
	return []item{
		{"1a", "trial on one person, in the title", "answers", "the subtitle says it"},
		{"1b", "structured summary", "answers", "the answers stand first; there is no abstract"},
		{"2a.1", "background", "", byHand},
		{"2a.2", "why a trial on one person", "", byHand},
		{"2b", "objectives or hypotheses", "answers", "the questions, as declared"},
		{"3a", "design, number and length of periods, washout, run-in", "methods", ""},
		{"3b", "changes after the start, with reasons", "schedule", "amendments, if any"},
		{"4a", "the person: condition, diagnosis, other treatment", "", byHand},
		{"4b", "setting", "", byHand},
		{"4c", "whether it is research, ethics approval", "", byHand},
		{"5", "the foods of each period, in enough detail to repeat, and how they were taken", "schedule", "portions as logged"},
		{"6a.1", "outcomes, and when they were measured", "methods", ""},
		{"6a.2", "properties of the tools that measured", "", "the sensor and its accuracy; add them by hand"},
		{"6b", "changes of outcomes", "methods", "the lock tells whether the study file was changed"},
		{"7a", "how the number of tests was chosen", "", "see mealtrial power; not recorded in the study"},
		{"7b", "looks and stopping rules", "methods", ""},
		{"8a", "whether and how the order was randomised", order, orderNote},
		{"8b", "restrictions of the order", order, orderNote},
		{"8c", "the full intended sequence", "schedule", orderNote},
		{"9", "concealment of the sequence", masked, maskedNote},
		{"10", "who generated the sequence and gave the foods", "", "the program drew it; add who prepared the foods"},
		{"11a", "who was blinded, and how", masked, maskedNote},
		{"11b", "how alike the foods were", "", byHand},
		{"12a", "methods of summary and comparison", "methods", ""},
		{"12b", "further analyses", "robustness", ""},
		{"12c", "carry-over, period effects, correlation within the person", "robustness", ""},
		{"13a.1", "tests completed and their order, deviations with reasons", "schedule", ""},
		{"13b", "losses and exclusions, with reasons", "deviations", ""},
		{"13c", "tests with missing data", "foods", "measured share of each window"},
		{"14a", "dates", "schedule", ""},
		{"14b", "whether it stopped early, and why", "schedule", "tests not in the log; add why"},
		{"15", "baseline", "foods", "glucose before each test; add the rest by hand"},
		{"16", "number of tests analysed of each food", "foods", ""},
		{"17a.1", "result of every test, preferably plotted", "foods", ""},
		{"17a.2", "size of each effect with its precision", "differences", ""},
		{"17b", "yes/no outcomes", "", "there are none"},
		{"18", "results of other analyses", "robustness", ""},
		{"19", "harms", "notes", "low and high glucose only; add anything else"},
		{"20", "limitations", "notes", ""},
		{"21", "how far it applies", "answers", "one person only"},
		{"22", "interpretation", "answers", "as far as the intervals go"},
		{"23", "registration", "", byHand},
		{"24", "where the protocol can be read", "methods", "the digest of the study file; add where the file is"},
		{"25", "funding", "", byHand},
	}
}
