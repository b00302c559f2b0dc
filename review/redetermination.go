package review

// RedetermineForm begins a new determination of the same specimen.
type RedetermineForm struct {
	Family         string `json:"family" maxLength:"60"`
	ScientificName string `json:"scientific_name,omitempty" maxLength:"120"`
	Qualifier      string `json:"qualifier,omitempty" enum:",?,cf.,aff."`
	Doubted        Rank   `json:"doubted,omitempty" enum:",genus,species" doc:"Word that is doubted, before which cf. or aff. stands; empty: the last one of the name"`
	Reason         string `json:"reason" minLength:"1" maxLength:"2000"`
}
