package record

// The codes of the rules; [Rules] is their table.
const (
	CodeReference          FindingCode = "reference_missing"
	CodeMalformed          FindingCode = "malformed"
	CodeUnknownWord        FindingCode = "unknown_word"
	CodeNotFinite          FindingCode = "not_a_number"
	CodeImpossibleNumber   FindingCode = "impossible_number"
	CodeOddNumber          FindingCode = "odd_number"
	CodeStrikeReason       FindingCode = "strike_out_without_reason"
	CodeOverrideReason     FindingCode = "override_without_reason"
	CodeOverrideRefused    FindingCode = "override_not_allowed"
	CodeFrozen             FindingCode = "changed_after_signing"
	CodeSidesDisagree      FindingCode = "sides_disagree"
	CodeSideMissing        FindingCode = "side_missing"
	CodeSideNotEye         FindingCode = "side_is_not_the_eye"
	CodeSideNotTyped       FindingCode = "side_not_typed"
	CodeOtherPatient       FindingCode = "other_patient"
	CodeTwoOfOneSide       FindingCode = "two_eyes_of_one_side"
	CodeDateImpossible     FindingCode = "date_impossible"
	CodeDateUnknown        FindingCode = "date_unknown"
	CodeDateMissing        FindingCode = "date_missing"
	CodeFuture             FindingCode = "date_in_the_future"
	CodeBeforeBirth        FindingCode = "before_birth"
	CodeAfterDeath         FindingCode = "after_death"
	CodeAgeOdd             FindingCode = "age_odd"
	CodeBirthYear          FindingCode = "birth_years_differ"
	CodeOrder              FindingCode = "impossible_order"
	CodeOddOrder           FindingCode = "odd_order"
	CodeRemovalFirst       FindingCode = "removed_before_filled"
	CodeRemovalAlone       FindingCode = "removed_but_never_filled"
	CodeStillFilled        FindingCode = "still_filled"
	CodeMLDAboveBase       FindingCode = "mld_above_base"
	CodeSmallAboveLarge    FindingCode = "small_above_large"
	CodeMinimumOrBase      FindingCode = "minimum_or_base"
	CodeNoBasis            FindingCode = "interval_without_basis"
	CodeAxialLength        FindingCode = "axial_length_impossible"
	CodeSoundInOil         FindingCode = "axial_length_by_sound_in_oil"
	CodeAxialMedium        FindingCode = "axial_length_medium_not_told"
	CodeLongEye            FindingCode = "axial_length_long"
	CodeGasExpands         FindingCode = "gas_above_non_expansile"
	CodeTwoGases           FindingCode = "two_gases"
	CodeGasPercent         FindingCode = "gas_percent_unclear"
	CodeSamePerson         FindingCode = "mixed_and_checked_by_one"
	CodeNotReadBack        FindingCode = "mixture_not_read_back"
	CodeSignedForOther     FindingCode = "signed_for_somebody_else"
	CodeExpired            FindingCode = "agent_expired"
	CodeBatchExpired       FindingCode = "batch_expired"
	CodeRecalled           FindingCode = "agent_recalled"
	CodeLotMissing         FindingCode = "lot_missing"
	CodeLotDiffers         FindingCode = "lot_differs_from_batch"
	CodeOilUnderfill       FindingCode = "oil_below_cavity"
	CodeOilOverfill        FindingCode = "oil_above_cavity"
	CodeAphakic            FindingCode = "aphakic_fill"
	CodeBubbleConflict     FindingCode = "fill_and_meniscus_differ"
	CodeAcuityUnclear      FindingCode = "acuity_unclear"
	CodeAcuityUnusable     FindingCode = "acuity_unusable"
	CodeAcuitySide         FindingCode = "acuity_names_other_eye"
	CodeThroughGas         FindingCode = "acuity_through_gas"
	CodeNoReason           FindingCode = "missing_without_reason"
	CodeContradiction      FindingCode = "contradiction"
	CodeReasonAgainstFirst FindingCode = "no_reason_against_first_option"
	CodeOptionUnknown      FindingCode = "chosen_option_unknown"
	CodeOpenField          FindingCode = "open_field"
	CodeClock              FindingCode = "clock"
	CodeResidual           FindingCode = "residue_after_removal"
)

// Rule is one row of the table of rules.
type Rule struct {
	Code     FindingCode
	Severity Severity
	// Overridable stops can be passed with a typed reason.
	Overridable bool
	// NeedsSide and NeedsSecond say what the override needs besides its reason.
	NeedsSide, NeedsSecond bool
	Why                    string
}

// Sources of the rules. The numbers are those of the hard cases and problems that
// came with the brief of the record; where a paper stands behind one it is named.
const (
	whySide = "a mismatch of sides was overridden by hand and waved through (HSSIB, incorrect intraocular lens report; full text); " +
		"surgeons recall the side from the name in 73 % (Pikkel et al., Risk Manag Healthc Policy 2014;7:77; abstract)"
	whyLot = "toxic heavy liquid could be traced by lot alone (Pastor et al., Retina 2017;37:1140; abstract)"
	whyGas = "Royal College of Ophthalmologists safety alert, 18 December 2018 (web page, full text); " +
		"three eyes with badly diluted gas (Kanclerz and Grzybowski, Case Rep Ophthalmol 2018;9:405, doi 10.1159/000492746; abstract)"
	whySound  = "sound is slower in oil, about 980 m/s (from memory); Kanclerz and Grzybowski, Semin Ophthalmol 2019;34:392 (abstract)"
	whyOil    = "air trapped behind the lens is replaced by fluid later; Wang et al., Asia-Pac J Ophthalmol 2021;10:564 (excerpt of the full text)"
	whyNote   = "operation notes miss key items (Tanveer et al., Cureus 2023;15:e51274; abstract)"
	whyAcuity = "entries that cannot be read are neither zero nor missing (Goldstein et al., Ophthalmol Sci 2022;3:100215; full text)"
	whyRecord = "rule of the record, no source"
	whyTrade  = "common practice, no source"
)

var rules = []Rule{
	{Code: CodeReference, Severity: Stop, Why: whyRecord},
	{Code: CodeMalformed, Severity: Stop, Why: whyRecord},
	{Code: CodeUnknownWord, Severity: Stop, Why: whyRecord},
	{Code: CodeNotFinite, Severity: Stop, Why: whyRecord},
	{Code: CodeImpossibleNumber, Severity: Stop, Why: whyTrade},
	{Code: CodeOddNumber, Severity: Ask, Why: whyTrade},
	{Code: CodeStrikeReason, Severity: Stop, Why: whyRecord},
	{Code: CodeOverrideReason, Severity: Stop, Why: whyRecord},
	{Code: CodeOverrideRefused, Severity: Stop, Why: whyRecord},
	{Code: CodeFrozen, Severity: Stop, Why: whyRecord},
	{Code: CodeSidesDisagree, Severity: Stop, Overridable: true, NeedsSide: true, Why: whySide},
	{Code: CodeSideMissing, Severity: Stop, Why: "never inherited from the row above; " + whySide},
	{Code: CodeSideNotEye, Severity: Stop, Why: whySide},
	{Code: CodeSideNotTyped, Severity: Warn, Why: whySide},
	{Code: CodeOtherPatient, Severity: Stop, Why: whySide},
	{Code: CodeTwoOfOneSide, Severity: Stop, Why: "a merge of two persons can bring them together (problem H17); " + whyRecord},
	{Code: CodeDateImpossible, Severity: Stop, Why: whyRecord},
	{Code: CodeDateUnknown, Severity: Warn, Why: whyRecord},
	{Code: CodeDateMissing, Severity: Ask, Why: whyRecord},
	{Code: CodeFuture, Severity: Stop, Why: "what is recorded has happened; a day ahead may be another time zone"},
	{Code: CodeBeforeBirth, Severity: Stop, Why: whyRecord},
	{Code: CodeAfterDeath, Severity: Stop, Why: whyRecord},
	{Code: CodeAgeOdd, Severity: Warn, Why: whyRecord},
	{Code: CodeBirthYear, Severity: Stop, Why: whyRecord},
	{Code: CodeOrder, Severity: Stop, Why: whyRecord},
	{Code: CodeOddOrder, Severity: Warn, Why: whyRecord},
	{Code: CodeRemovalFirst, Severity: Stop, Why: whyRecord},
	{Code: CodeRemovalAlone, Severity: Warn, Why: "it may have been put in elsewhere"},
	{Code: CodeStillFilled, Severity: Ask, Why: whyTrade},
	{Code: CodeMLDAboveBase, Severity: Stop, Why: "by its definition the minimum linear diameter is the narrowest"},
	{Code: CodeSmallAboveLarge, Severity: Stop, Why: "by definition"},
	{Code: CodeMinimumOrBase, Severity: Warn, Why: "1,208 µm is the mean base of a published series (hard case 34, secondary)"},
	{Code: CodeNoBasis, Severity: Stop, Why: "a number without its error and the reason for it is not shown"},
	{Code: CodeAxialLength, Severity: Stop, Why: "range of package eye"},
	{Code: CodeSoundInOil, Severity: Stop, Overridable: true, Why: whySound},
	{Code: CodeAxialMedium, Severity: Ask, Why: whySound},
	{Code: CodeLongEye, Severity: Warn, Why: "oil, staphyloma or a long eye? hard case 38"},
	{Code: CodeGasExpands, Severity: Stop, Overridable: true, NeedsSecond: true, Why: whyGas},
	{Code: CodeTwoGases, Severity: Stop, Why: whyGas},
	{Code: CodeGasPercent, Severity: Ask, Why: whyGas},
	{Code: CodeSamePerson, Severity: Stop, Overridable: true, Why: whyGas},
	{Code: CodeNotReadBack, Severity: Stop, Why: whyGas},
	{Code: CodeSignedForOther, Severity: Stop, Why: whyRecord},
	{Code: CodeExpired, Severity: Stop, Overridable: true, Why: whyLot},
	{Code: CodeBatchExpired, Severity: Warn, Why: whyLot},
	{Code: CodeRecalled, Severity: Stop, Overridable: true, NeedsSecond: true, Why: whyLot},
	{Code: CodeLotMissing, Severity: Warn, Why: whyLot},
	{Code: CodeLotDiffers, Severity: Stop, Overridable: true, Why: whyLot},
	{Code: CodeOilUnderfill, Severity: Warn, Why: whyOil},
	{Code: CodeOilOverfill, Severity: Ask, Why: whyOil},
	{Code: CodeAphakic, Severity: Ask, Why: "without an open iridectomy oil is pushed forward (ultrasound biomicroscopy study, PMID 12172111; abstract)"},
	{Code: CodeBubbleConflict, Severity: Ask, Why: "height is not volume (Hillier et al., Graefes 2011;249, doi 10.1007/s00417-010-1579-3; full text)"},
	{Code: CodeAcuityUnclear, Severity: Ask, Why: whyAcuity},
	{Code: CodeAcuityUnusable, Severity: Warn, Why: whyAcuity},
	{Code: CodeAcuitySide, Severity: Stop, Why: whySide},
	{Code: CodeThroughGas, Severity: Ask, Why: "true but no result (hard case 19); common practice, no source"},
	{Code: CodeNoReason, Severity: Ask, Why: "64 % of discordances were omissions (Ley et al., BMC Res Notes 2019;12, s13104-019-4574-8; abstract)"},
	{Code: CodeContradiction, Severity: Stop, Why: whyRecord},
	{Code: CodeReasonAgainstFirst, Severity: Stop, Why: whyRecord},
	{Code: CodeOptionUnknown, Severity: Stop, Why: whyRecord},
	{Code: CodeOpenField, Severity: Stop, Why: whyNote},
	{Code: CodeClock, Severity: Warn, Why: "the time line rests on elapsed time; hard case 83"},
	{Code: CodeResidual, Severity: Warn, Why: "hard case 67; common practice, no source"},
}

// Rules returns the table of all rules.
func Rules() []Rule { return append([]Rule(nil), rules...) }

// ruleOf returns the rule of a code; ok is false when there is none.
func ruleOf(code FindingCode) (Rule, bool) {
	for _, r := range rules {
		if r.Code == code {
			return r, true
		}
	}
	return Rule{}, false
}

// checker gathers findings.
type checker struct {
	today    Date
	findings []Finding
}

// add enters a finding; severity and what may be done come from the rule.
func (c *checker) add(code FindingCode, where, what, mend string) {
	r, ok := ruleOf(code)
	if !ok {
		r = Rule{Code: code, Severity: Stop}
	}
	c.findings = append(c.findings, Finding{
		Severity: r.Severity, Code: code, Where: where, What: what, Mend: mend, Overridable: r.Overridable,
	})
}
