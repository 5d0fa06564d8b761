package compendium

import "slices"

// Report counts what was read into the table of drugs: nothing that is in
// the files may be missing here, and what the table does not know is named.
type Report struct {
	Drugs, Names, Codes, Facts    int
	ByStanding, ByBasis, ByTopic  map[string]int
	NeverGate, Keyed, Conflicting int
	Listed, Reviewed              int      // for hazard
	Ambiguous                     int      // codes that find no row on purpose
	NoRenal, NoDaily, NoFluid     []string // drugs without such an entry: not checked
	NoStability, NoMonitoring     []string
}

// Report counts the table of drugs.
func (t *Tables) Report() Report {
	r := Report{Drugs: len(t.Drugs), ByStanding: map[string]int{}, ByBasis: map[string]int{}, ByTopic: map[string]int{}}
	for _, d := range t.Drugs {
		r.Names += 1 + len(d.Also)
		r.Codes += len(d.Codes.RxNorm) + len(d.Codes.ATC)
		r.Ambiguous += len(d.Codes.Ambiguous)
		if d.Hazard == nil {
			r.Listed++
		} else {
			r.Reviewed++
		}
		has := map[string]bool{}
		for _, f := range d.Facts {
			r.Facts++
			r.ByStanding[f.Standing]++
			r.ByBasis[f.Basis]++
			r.ByTopic[f.Topic]++
			has[f.Topic] = has[f.Topic] || f.Gates && (f.Topic != "renal_dose_adjustment" || len(f.Value.Bands) > 0 || f.Value.NoChange) &&
				(f.Topic != "diluent_compatible" || len(f.Value.List) > 0)
			for flag, n := range map[*int]bool{&r.NeverGate: !f.Gates, &r.Keyed: len(f.AppliesTo) > 0, &r.Conflicting: f.Conflict != ""} {
				if n {
					*flag++
				}
			}
		}
		for list, topic := range map[*[]string]string{&r.NoRenal: "renal_dose_adjustment", &r.NoDaily: "max_daily_dose", &r.NoFluid: "diluent_compatible",
			&r.NoStability: "stability_diluted", &r.NoMonitoring: "monitoring"} {
			if !has[topic] {
				*list = append(*list, d.Name)
			}
		}
	}
	for _, list := range []*[]string{&r.NoRenal, &r.NoDaily, &r.NoFluid, &r.NoStability, &r.NoMonitoring} {
		slices.Sort(*list)
	}
	return r
}

// Counts are the sizes of all tables by name, with how far their values may
// be trusted. For drugs every fact, flag, code list, step and review counts.
func (t *Tables) Counts() map[string]Count {
	drugs := counted(t.Edition, len(t.Drugs))
	one := func(standing string) { drugs.Standing[standing]++ }
	for _, d := range t.Drugs {
		one(d.Codes.Standing)
		for _, f := range d.Facts {
			one(f.Standing)
		}
		for _, f := range d.Flags {
			one(f.Standing)
		}
		if d.Hazard != nil {
			one(d.Hazard.Standing)
		}
		if d.RoundingStep != nil {
			one(d.RoundingStep.Standing)
		}
		if d.UsualVolumes != nil {
			one(d.UsualVolumes.Standing)
		}
	}
	hazards := counted(t.HazardEdition, len(t.Hazards))
	for _, h := range t.Hazards {
		hazards.Standing[h.Standing]++
	}
	edition, rows := solutes()
	salts := counted(edition, len(rows))
	for _, s := range rows {
		salts.Standing[s.Standing]++
	}
	return map[string]Count{"drugs": drugs, "hazards": hazards, "solutes": salts, "devices": DevicesCount(), "access": AccessCount(),
		"sterility": SterilityCount(), "pairs": PairsCount(), "interactions": InteractionsCount(), "allergies": AllergiesCount()}
}
