package protocol

import "mealtrial/protocol/problem"

// Check looks for what is wrong between the files of a folder that are right
// each by themselves: a plan that does not fit its dates, tests that nothing
// covers, tests without a block where others have one.
func (f *Folder) Check() problem.List {
	var problems problem.List
	if f.Study.Plan != nil && f.Schedule == nil {
		preview, err := DrawSchedule(f.Study, 0)
		collect(&problems, err)
		f.Preview = preview
	}
	responses, uncovered := f.Responses()
	problems = append(problems, uncovered...)
	return append(problems, f.missingBlocks(responses)...)
}
