package checks

import "fmt"

// FinalChanges lists in words what differs between two verdicts on one final test:
// the outcome, then each step in the order of the later sheet with what is new and
// what is gone. It is empty where nothing does.
func FinalChanges(before, after FinalVerdict) []string {
	var all []string
	if before.Outcome != after.Outcome {
		all = append(all, fmt.Sprintf("verdict: %s becomes %s", before.Outcome, after.Outcome))
	}
	old := map[StepName]StepVerdict{}
	for _, step := range before.Steps {
		old[step.Step] = step
	}
	for _, step := range after.Steps {
		was, known := old[step.Step]
		delete(old, step.Step)
		if !known {
			all = append(all, fmt.Sprintf("%s: a new step, %s", step.Step, step.Outcome))
		} else if was.Outcome != step.Outcome {
			all = append(all, fmt.Sprintf("%s: %s becomes %s", step.Step, was.Outcome, step.Outcome))
		}
		all = append(all, reasonChanges(was.Reasons, step.Reasons)...)
	}
	for _, step := range before.Steps {
		if _, gone := old[step.Step]; gone {
			all = append(all, fmt.Sprintf("%s: no longer a step, was %s", step.Step, step.Outcome))
		}
	}
	return all
}

// reasonChanges lists the reasons that only one of the two has.
func reasonChanges(before, after []StepReason) []string {
	var all []string
	for _, r := range before {
		if !hasReason(after, r) {
			all = append(all, "no longer: "+r.Text)
		}
	}
	for _, r := range after {
		if !hasReason(before, r) {
			all = append(all, "new: "+r.Text)
		}
	}
	return all
}

func hasReason(among []StepReason, wanted StepReason) bool {
	for _, r := range among {
		if r.Kind == wanted.Kind && r.Text == wanted.Text {
			return true
		}
	}
	return false
}
