package record

import (
	"reflect"
	"slices"
)

// vocabulary holds, for every type of coded word, the words it may have. A word
// outside it is not stored (see [Check]) and never shown de-identified.
var vocabulary = map[reflect.Type][]string{}

// words enters the words of one type.
func words[T ~string](all ...T) {
	list := make([]string, len(all))
	for i, w := range all {
		list[i] = string(w)
	}
	vocabulary[reflect.TypeFor[T]()] = list
}

// Words returns the words a coded type may have, in the order in which they are
// offered; nil for a type that is not coded.
func Words[T ~string]() []T {
	var out []T
	for _, w := range vocabulary[reflect.TypeFor[T]()] {
		out = append(out, T(w))
	}
	return out
}

// isKnownWord reports whether a value of a coded type is one of its words; coded is
// false for types that are not coded. The empty word means "not told".
func isKnownWord(v reflect.Value) (isWord, coded bool) {
	list, coded := vocabulary[v.Type()]
	return coded && (v.String() == "" || slices.Contains(list, v.String())), coded
}

func init() {
	words(KindPatient, KindPerson, KindFileOrigin, KindMerge, KindEye, KindScan, KindFigures, KindPlan,
		KindOperation, KindVisit, KindBatch, KindFilm, KindDocument, KindContact, KindUnit)
	words(PaperA4, PaperLetter)
	words(NameOfficial, NameFormer, NameOther)
	words(ContactPhone, ContactMail, ContactAddress, ContactOther)
	words(Female, Male, OtherSex)
	words(Yes, No, Unclear)
	words(Diabetes, Hypertension, Stroke, VenousClot, HeartDisease, LungDisease, KidneyDisease, BleedingProne,
		MovementLimited, OtherCondition)
	words(Anticoagulant, Antiplatelet, PressureLowering, Steroid, Antibiotic, AntiInflammatory, AntiVEGF, OtherMedication)
	words(Reached, NotReached, MessageLeft, WillCome, WillNotCome, SeenElsewhere, Died)
	words(BiometryLight, BiometryUltrasound)
	words(MediumFluid, MediumAir, MediumGas, MediumOil, MediumHeavyOil, MediumHeavyLiquid)
	words(FullThicknessHole, LamellarHole, Pseudohole, EpiretinalMembrane, VitreomacularTraction, MyopicFoveoschisis,
		MacularHoleDetachment, RetinalDetachment, ProliferativeVR, DiabeticRetinopathy, VeinOcclusion, VitreousHaemorrhage,
		RetainedHeavyLiquid, MacularDegeneration, PathologicMyopia, Glaucoma, Uveitis, EyeInjury, SubmacularHaemorrhage,
		DislocatedLens, Endophthalmitis, AgeRelatedCataract, OpticPitMaculopathy, MacularTelangiectasia2, OtherDiagnosis)
	words(LensClear, LensCataract, LensPseudophakic, LensAphakic, LensAnteriorChamber)
	words(SideFromForm, SideFromHeader, SideFromName, SideFromPlan, SideFromRecord, SideFromRow, SideTyped)
	words(FiguresAutomatic, FiguresConfirmed, FiguresCorrected, FiguresByHand, FiguresTyped)
	words(AgentDye, AgentGas, AgentAir, AgentOil, AgentHeavyOil, AgentHeavyLiquid, AgentImplant, AgentGraft, AgentDrug, AgentIrrigation)
	words(SF6, C2F6, C3F8)
	words(BrilliantBlueG, TrypanBlue, IndocyanineGreen, InfracyanineGreen, BromophenolBlue, Triamcinolone,
		BrilliantBlueTrypan, BrilliantBlueBromophenol, OtherDye)
	words(AgentPlaced, AgentUsed, AgentRemoved, AgentPartlyRemoved)
	words(GasExchange, GasRetinopexy, GasTopUp)
	words(ReasonExperience, ReasonEquipment, ReasonPatient, ReasonPosture, ReasonTravel, ReasonAllergy, ReasonFellowEye,
		ReasonEarlier, ReasonOther)
	words(AnaesthesiaGeneral, AnaesthesiaBlock, AnaesthesiaTopical, AnaesthesiaSedation)
	words(PostureFaceDown, PostureUpright, PostureRightSide, PostureLeftSide, PostureNotSupine, PostureFree)
	words(Vitrectomy, VitrectomyWithLens, OilRemoval, OilExchange, HeavyLiquidRemoval, OfficeGasExchange, GasTopUpProcedure,
		GasReleaseProcedure, PneumaticRetinopexy, ScleralBuckle, LensSurgery, Injection, LaserTreatment, OtherProcedure)
	words(BeforeBlock, BeforeKnife, BeforeInjection)
	words(PartDid, PartPart, PartWatched, PartNurse, PartAnaesth)
	words(StepBlock, StepKnife, StepPorts, StepInfusionSeen, StepLens, StepCoreVitrectomy, StepHyaloid, StepPeripheral,
		StepStain, StepRinse, StepMembranePeel, StepILMPeel, StepFlap, StepGraft, StepDissection, StepHeavyLiquidIn,
		StepHeavyLiquidOut, StepRetinotomy, StepLaser, StepCryo, StepPeripherySearch, StepFluidAir, StepTamponadeIn,
		StepTamponadeOut, StepTrappedAirSearch, StepPortsOut, StepEnd, StepOther)
	words(MembraneILM, MembraneERM, MembraneHyaloid, MembraneSubretinal)
	words(Peeled, PartlyPeeled, LeftInPlace, AlreadyGone, PeelUnknown)
	words(FlapInverted, FlapTemporal, FlapPedicle, FlapFree, FlapLensCapsule, FlapRetina, FlapAmnion, FlapBloodPlug, FlapOther)
	words(EventIatrogenicBreak, EventLensTouch, EventHaemorrhage, EventHypotony, EventInfusionBlocked, EventInfusionSlipped,
		EventChoroidal, EventRetinalTouch, EventSubretinalAgent, EventCapsuleRupture, EventFlapLost, EventDetachment,
		EventPoorView, EventInstrumentFailed, EventOther)
	words(PressureApplanation, PressureHandApplan, PressureAirPuff, PressureRebound, PressureDynamic, PressureFinger, PressureMachine)
	words(ClosedNoDefect, ClosedWithDefect, FlatClosed, FlatOpen, ElevatedOpen, ElevatedClosed, KangType1, KangType2,
		Reopened, ClosureUnread)
	words(ClosureFromOCT, ClosureThroughGas, ClosureFromClinic, ClosureFromLetter)
	words(LookFull, LookPartial, LookDroplets, LookEmulsified, LookSubretinal, LookAnterior, LookNone)
	words(CompDetachment, CompBreak, CompHighPressure, CompHypotony, CompEndophthalmitis, CompHaemorrhage, CompCataract,
		CompFieldLoss, CompMacularOedema, CompReopening, CompUveitis, CompKeratopathy, CompEmulsification, CompOilAnterior,
		CompRetainedLiquid, CompChoroidal, CompWoundLeak, CompDyeToxicity, CompUnexplainedLoss, CompClot, CompOther)
	words(FieldAcuity, FieldPressure, FieldLens, FieldClosure, FieldBubble, FieldScan)
	words(NotDone, NotPossible, PatientRefused, NotWritten, CannotBeRead, NoReasonGiven)
	words(DueReview, DuePressure, DueGasCheck, DueOilRemoval, DueHeavyLiquid, DueFellowEyeScan)
	words(DocumentConsent, DocumentLetter, DocumentTheatreSheet, DocumentMixingSheet, DocumentLeaflet, DocumentImplantCard,
		DocumentPicture, DocumentOther)
	words(Stop, Ask, Warn)
}

// WordsOf are the words of a coded type that is known at run time only; nil for a
// type that is not coded.
func WordsOf(t reflect.Type) []string { return slices.Clone(vocabulary[t]) }
