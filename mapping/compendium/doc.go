// Package compendium holds facts about drugs, each with its source, edition
// and standing: what the label, a guideline or a study says. Choices a site
// may make are in policy. Unknown is never "fine": a drug without a row, and
// a topic without a fact, answer "no".
//
// The hazardous-drug rows follow the NIOSH List of Hazardous Drugs in
// Healthcare Settings, 2024 (publication 2025-103).
package compendium
