package adapter

// CaseSchema is the form of the case JSON that this program writes. A change
// of the canonical case that old JSON does not fit raises it and adds a step
// to caseSteps.
const CaseSchema = 1

// caseSteps[n] turns case JSON of schema n into that of n+1.
var caseSteps = map[int]func([]byte) ([]byte, error){}

// UpgradeCase gives the case in the form this program knows. A case of a
// newer program is a *SchemaNewer: it is never read halfway.
func UpgradeCase(c StoredCase) (StoredCase, error) { return upgradeCase(c, CaseSchema, caseSteps) }

func upgradeCase(c StoredCase, to int, steps map[int]func([]byte) ([]byte, error)) (StoredCase, error) {
	if c.Schema > to {
		return StoredCase{}, &SchemaNewer{What: "case", Have: int64(c.Schema), Know: int64(to)}
	}
	for c.Schema < to {
		step := steps[c.Schema]
		if step == nil {
			return StoredCase{}, &Invalid{What: "a case of a schema that this program cannot bring up to date"}
		}
		json, err := step(c.JSON)
		if err != nil {
			return StoredCase{}, err
		}
		c.JSON, c.Schema = json, c.Schema+1
	}
	return c, nil
}
