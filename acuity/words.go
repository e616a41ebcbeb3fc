package acuity

import (
	"slices"
	"strings"
	"unicode/utf8"

	"limitans/eye"
)

// meaning is what a phrase stands for in a language; language "" is usage seen
// in English and international texts.
type meaning struct {
	kind     Kind
	language string
	note     string
}

// vocabulary lists phrases without accents and case, by kind and language,
// separated by commas. English terms are common practice. All national
// phrases and abbreviations are from memory and wait for a reader of each
// language.
var vocabulary = []struct {
	kind     Kind
	language string
	note     string
	phrases  string
}{
	{CountingFingers, "", "", "cf, fc, cfs, count fingers, counting fingers, counts fingers, count finger, counting finger, finger counting, finger count, fingers counting, counts finger"},
	{CountingFingers, "", "close to the face", "cfcf, cf close to face, cf near face, cf close, cf at face, cf face, fc close to face, fc near face, cfctf, cf ctf"},
	{HandMovements, "", "", "hm, hms, hmv, hand movement, hand movements, hand motion, hand motions, hand move"},
	{HandMovements, "", "close to the face", "hmcf, hm close to face, hm near face, hm close, hm at face, hm face"},
	{LightPerception, "", "", "lp, pl, light perception, perception of light, light percept, perceives light"},
	{NoLightPerception, "", "", "nlp, npl, no lp, no pl, no light perception, no perception of light, nil lp, nil pl, denies lp, denies pl, denies light perception, amaurosis"},
	{NoLightPerception, "", notSurgery, "prosthesis, prosthetic, prosthetic eye, ocular prosthesis, artificial eye, glass eye, enucleated, enucleation, eviscerated, evisceration, anophthalmos, anophthalmic, anophthalmic socket"},
	{CountingFingers, "de", "", "fz, fingerzahlen, finger zahlen, fingerzaehlen"},
	{HandMovements, "de", "", "hbw, hb, handbewegung, handbewegungen"},
	{LightPerception, "de", "", "ls, lsw, lw, lichtschein, lichtscheinwahrnehmung, lichtwahrnehmung"},
	{NoLightPerception, "de", "", "nl, nulla lux, keine lichtwahrnehmung, keine lichtscheinwahrnehmung, kein lichtschein, amaurose"},
	{NoLightPerception, "de", notSurgery, "prothese, kunstauge, augenprothese"},
	{CountingFingers, "fr", "", "cld, cd, compte les doigts, compte doigts, voit les doigts"},
	{HandMovements, "fr", "", "mm, vbm, vblm, mdm, voit bouger la main, bouge la main, mouvements de la main, mouvement de la main"},
	{LightPerception, "fr", "", "perception lumineuse, perceptions lumineuses"},
	{NoLightPerception, "fr", "", "ppl, pas de perception lumineuse, absence de perception lumineuse, pl negative, pl nulle, cecite"},
	{NoLightPerception, "fr", notSurgery, "prothese, prothese oculaire"},
	{CountingFingers, "es", "", "cd, cuenta dedos"},
	{HandMovements, "es", "", "mm, movimiento de manos, movimiento de mano, movimientos de mano, movimientos de manos"},
	{LightPerception, "es", "", "percepcion de luz, percibe luz"},
	{NoLightPerception, "es", "", "spl, no percibe luz, no percepcion de luz, sin percepcion de luz, amaurosis"},
	{NoLightPerception, "es", notSurgery, "protesis"},
	{CountingFingers, "pt", "", "cd, conta dedos"},
	{HandMovements, "pt", "", "mm, movimentos de mao, movimentos de maos, movimento de mao, movimento de maos"},
	{LightPerception, "pt", "", "percepcao de luz, percepcao luminosa"},
	{NoLightPerception, "pt", "", "spl, sem percepcao de luz, sem percepcao luminosa, amaurose"},
	{NoLightPerception, "pt", notSurgery, "protese"},
	{CountingFingers, "it", "", "cd, conta dita, conta le dita"},
	{HandMovements, "it", "", "mm, moto mano, movimento mano, movimento della mano, moto della mano"},
	{LightPerception, "it", "", "percezione luce, percezione della luce, percezione luminosa"},
	{NoLightPerception, "it", "", "visus spento, assenza di percezione luminosa, assente percezione luce"},
	{NoLightPerception, "it", notSurgery, "protesi"},
	{CountingFingers, "nl", "", "vt, vingers tellen"},
	{HandMovements, "nl", "", "hb, handbewegingen, handbeweging"},
	{LightPerception, "nl", "", "lichtperceptie"},
	{NoLightPerception, "nl", "", "geen lichtperceptie, lp negatief"},
	{CountingFingers, "tr", "", "ps, parmak sayma"},
	{HandMovements, "tr", "", "eh, el hareketi, el hareketleri"},
	{LightPerception, "tr", "", "isik hissi, isik algisi"},
	{NoLightPerception, "tr", "", "isik hissi yok"},
	{CountingFingers, "pl", "", "lp, liczy palce"},
	{HandMovements, "pl", "", "rr, ruchy reki, ruch reki"},
	{LightPerception, "pl", "", "poczucie swiatla"},
	{NoLightPerception, "pl", "", "brak poczucia swiatla"},
}

const notSurgery = "not a result of surgery"

var lexicon, longestPhrase = buildLexicon()

func buildLexicon() (map[string][]meaning, int) {
	out, longest := map[string][]meaning{}, 1
	for _, v := range vocabulary {
		for _, phrase := range strings.Split(v.phrases, ", ") {
			out[phrase] = append(out[phrase], meaning{v.kind, v.language, v.note})
			longest = max(longest, 1+strings.Count(phrase, " "))
		}
	}
	return out, longest
}

// Languages lists the languages whose abbreviations are known, as two-letter
// ISO 639-1 codes. English terms are known always.
func Languages() []string {
	out := []string{"en"}
	for _, v := range vocabulary {
		if v.language != "" && !slices.Contains(out, v.language) {
			out = append(out, v.language)
		}
	}
	slices.Sort(out)
	return out
}

// phraseAt returns the longest run of words at toks[i:] for which found says
// yes, and its number of tokens; zero when there is none.
func phraseAt(toks []token, i, longest int, found func(string) bool) (string, int) {
	best, size := "", 0
	phrase := ""
	for n := 0; n < longest && i+n < len(toks) && toks[i+n].kind == wordToken; n++ {
		if n > 0 {
			phrase += " "
		}
		phrase += toks[i+n].fold
		if found(phrase) {
			best, size = phrase, n+1
		}
	}
	return best, size
}

// resolve chooses the meaning of a category phrase under the file's language.
// More than one entry in the result means: ask.
func resolve(phrase, language string) (chosen []meaning, why string) {
	var own, international, other []meaning
	for _, m := range lexicon[phrase] {
		switch {
		case m.language == language && language != "":
			own = append(own, m)
		case m.language == "":
			international = append(international, m)
		default:
			other = append(other, m)
		}
	}
	if len(own) > 0 {
		return own[:1], ""
	}
	if len(international) > 0 {
		return international[:1], ""
	}
	kinds := map[Kind]bool{}
	for _, m := range other {
		if !kinds[m.kind] {
			chosen = append(chosen, m)
		}
		kinds[m.kind] = true
	}
	if utf8.RuneCountInString(phrase) <= 2 {
		return chosen, "a national abbreviation of two letters; the language of the file is not told or has another use"
	}
	return chosen, ""
}

// roleWords: without accents, dots and case. Common practice, no source.
var roleWords = map[string]Role{}

func init() {
	for role, phrases := range map[Role]string{
		Pinhole:     "ph, pinhole, pin hole, with ph, with pinhole, c/ph, w/ph, w/ ph, w/ pinhole, through pinhole, phva, stenopeic, stenop, lochblende, sl, trou stenopeique, ts, ae, agujero estenopeico",
		Corrected:   "cc, corrected, with correction, with glasses, with specs, with spectacles, w/ glasses, aided, bcva, bscva, cdva, bcdva, best corrected, with cl, with contact lens, mit korrektur, mit brille, avec correction, con correccion, com correcao, con correzione, avcc, vcc, gls, cgl, manifest, refracted",
		Uncorrected: "sc, uncorrected, without correction, without glasses, without specs, w/o glasses, w/o, unaided, u/a, ucva, udva, ucdva, uva, ohne korrektur, ohne brille, sans correction, sin correccion, sem correcao, senza correzione, avsc, vsc, sgl",
	} {
		for _, p := range strings.Split(phrases, ", ") {
			roleWords[p] = role
		}
	}
	// German "sl" and French "ts", Spanish "ae" mean the pinhole only in context; from memory, so not read.
	for _, p := range []string{"sl", "ts", "ae"} {
		delete(roleWords, p)
	}
}

// pinholeWithoutGain: the pinhole was tried and did not help.
var pinholeWithoutGain = words("phni, ph ni, niph, ni ph, ph no improvement, no improvement with ph, no improvement with pinhole, pinhole no improvement, no improvement ph, ni with ph, ni with pinhole, pinhole ni, no imp with ph, no improvement, ph no imp")

var partialWords = words("p, pp, part, partial, partially, partly, pt, blurry, blurred, blur, faible, f, teilweise, tw, partiel, partiellement, parcial, parziale, slow, slowly, hazy")

var missingWords = words("na, n/a, nan, null, missing, unknown, not available, not applicable, not recorded, not done, not tested, not documented, not measured, not known, none recorded, no data, nd, n/d, nr, n/r, nt, n/t, not taken, deferred, untested, utt, uta, unable, unable to test, unable to assess, could not be tested, could not test, uncooperative, refused, k a, ka, keine angabe, s/d, sin dato, non fait, nc, not examined, not checked, see notes, see note, pending, tba, blank, empty, undefined, value, ref, div")

var fixationWords = words("csm, csum, ff, f/f, fix and follow, fixes and follows, f and f, fixing and following, fl, follows light")

var blindWords = words("blind, none, nil, no vision, zero")

var negations = words("not, no, unable, cannot, never, nicht, pas, sin, non, without, fails, failed")

var bothEyes = words("ou, be, both eyes, beo, binocular, both, bin")

var sideWords = map[string]eye.Laterality{
	"od": eye.Right, "re": eye.Right, "right": eye.Right, "right eye": eye.Right, "r": eye.Right, "var": eye.Right, "vod": eye.Right, "ra": eye.Right, "rechts": eye.Right,
	"os": eye.Left, "le": eye.Left, "left": eye.Left, "left eye": eye.Left, "l": eye.Left, "val": eye.Left, "vos": eye.Left, "la": eye.Left, "links": eye.Left, "og": eye.Left, "oi": eye.Left,
}

var fillers = words("va, visus, vision, acuity, visual acuity, v, av, snellen, distance, dist, approx, approximately, about, ca, circa, is, was, reads, read, the, of, and, vision is, eye, chart")

func words(list string) map[string]bool {
	out := map[string]bool{}
	for _, w := range strings.Split(list, ", ") {
		out[w] = true
	}
	return out
}
