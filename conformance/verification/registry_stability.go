package verification

// stabilityRules: until when a prepared unit may be started and finished.
func stabilityRules() []Rule {
	return []Rule{
		rule("stability-dose-after-discard", facts(Order, Case, Plan), unitsMade, doseAfterDiscard),
	}
}
