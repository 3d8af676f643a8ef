package material

import "slices"

// Always lists the cautions that hold for every material.
var Always = []Caution{
	{"wear eye protection marked ANSI Z87.1 (or EN 166) whenever the spindle can turn", "ANSI Z87.1"},
	{"keep hands, sleeves, hair and gloves away from a turning spindle; stop it and wait before you reach in or turn the bar", "common practice"},
	{"85 dBA is the limit for 8 hours, halved for every 3 dB more (88 dBA 4 h, 100 dBA 15 min): wear hearing protection", "NIOSH recommended exposure limit, 3 dB exchange"},
	{"never blow chips or dust off a person; compressed air for cleaning stays below 30 psi (2.1 bar) and behind a guard, and a vacuum is better", "29 CFR 1910.242(b)"},
	{"stay with the machine while it cuts, with an extinguisher fit for the material at hand", "common practice"},
	{"follow the material's safety data sheet, local rules and licensed practice: they come before this page", "common practice"},
}

// AllCautions returns the material's own cautions, then those that always hold.
func (m Material) AllCautions() []Caution { return slices.Concat(m.Cautions, Always) }
