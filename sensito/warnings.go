package sensito

import (
	"cmp"
	"encoding/json"
	"fmt"
	"maps"
	"reflect"
	"slices"
	"strings"
)

// Warning is something the reader of a result must know: what is the matter, by
// its code, where, and the numbers and words that its sentence gives. The codes
// with their sentences are those of WarningCodes.
type Warning struct {
	Code        string // one of WarningCodes
	Strip, Step int    // by number, from 1; 0 where it is of none
	Of          string // what it is of, where that is not the whole result; "" otherwise
	Values      []any  // in the order of the sentence
	Hint        string // what the caller's own interface offers, such as an option of a command; "" otherwise

	sentence string // key in sentences
}

// Warn returns a warning with the values of its sentence. The key is the code or,
// where a code has several sentences, code/2 and so on.
func Warn(key string, values ...any) Warning {
	code, _, _ := strings.Cut(key, "/")
	return Warning{Code: code, Values: values, sentence: key}
}

// Message returns the warning in words.
func (w Warning) Message() string {
	text := fmt.Sprintf(sentences[w.sentence], w.Values...)
	if w.Hint != "" {
		text += "; " + w.Hint
	}
	if w.Strip > 0 {
		text = fmt.Sprintf("strip %d: %s", w.Strip, text)
	}
	if w.Of != "" {
		text = w.Of + ": " + text
	}
	return text
}

// String returns the code and the message.
func (w Warning) String() string { return w.Code + ": " + w.Message() }

// Within returns the warning as one of something that is told in words.
func (w Warning) Within(what string) Warning {
	if w.Of != "" {
		what += ": " + w.Of
	}
	w.Of = what
	return w
}

// OfStrip returns the warning as one of a strip.
func (w Warning) OfStrip(number int) Warning {
	w.Strip = number
	return w
}

// Equal says whether another warning tells the same.
func (w Warning) Equal(o Warning) bool { return reflect.DeepEqual(w, o) }

// MarshalJSON writes code, message, and the numbers of strip and step, null where
// it is of none.
func (w Warning) MarshalJSON() ([]byte, error) {
	number := func(n int) *int {
		if n == 0 {
			return nil
		}
		return &n
	}
	return json.Marshal(struct {
		Code    string `json:"code"`
		Message string `json:"message"`
		Strip   *int   `json:"strip"`
		Step    *int   `json:"step"`
	}{w.Code, w.Message(), number(w.Strip), number(w.Step)})
}

// StripList writes the numbers of strips, one or more: "strip 2", or "strips 1, 2 and 3".
func StripList(n []int) string {
	last := len(n) - 1
	if last == 0 {
		return fmt.Sprintf("strip %d", n[0])
	}
	before := strings.Trim(strings.ReplaceAll(fmt.Sprint(n[:last]), " ", ", "), "[]")
	return fmt.Sprintf("strips %s and %d", before, n[last])
}

// Warnings are those of one result.
type Warnings []Warning

// Add appends a warning (see Warn) and returns it.
func (ws *Warnings) Add(key string, values ...any) *Warning {
	*ws = append(*ws, Warn(key, values...))
	return &(*ws)[len(*ws)-1]
}

// WarningCodes returns the codes of all warnings, each with its sentences, in which
// a verb of fmt such as %s stands for a value. A control log's warnings beside an
// answer have control_ before their code, a paper's have paper_. It is for programs
// that use the library; people read WarningMeanings.
func WarningCodes() map[string][]string {
	return byCode(func(key string) string { return sentences[key] })
}

// WarningMeanings returns the codes of all warnings, each with what it tells: the
// sentences of WarningCodes, and in place of those that are all values a few words
// on them.
func WarningMeanings() map[string][]string {
	return byCode(func(key string) string { return cmp.Or(tells[key], sentences[key]) })
}

// byCode returns a text of every sentence, by the codes.
func byCode(text func(key string) string) map[string][]string {
	out := map[string][]string{}
	for _, key := range slices.Sorted(maps.Keys(sentences)) {
		code, _, _ := strings.Cut(key, "/")
		out[code] = append(out[code], text(key))
	}
	return out
}

// tells says of sentences that are all values what those tell.
var tells = map[string]string{
	"not_compared":       "why a trial is not compared with the others",
	"no_curve":           "why the readings give no curve",
	"no_curve/2":         "why the readings give no curve",
	"strip_copied":       "which strip has the same readings as another and is left out as its copy",
	"strip_left_out":     "why a strip is left out",
	"no_family":          "why the strips give no contrast and speed against time",
	"baseline_too_short": "why the control strips are too few to judge the process",
	"extrapolated/6":     "which time lies outside the tested times",
	"longer_time":        "at which lower temperature or higher dilution a short time would be longer, and how long",
}

// sentences are those of all warnings, by their keys (see Warn), with the verbs of
// fmt for their values.
var sentences = map[string]string{

	// sensito/camera
	"reciprocity_unknown":      "nothing is stated of how this film answers to long exposures; at %v it may need more (common practice, no source)",
	"reciprocity_extrapolated": "%v lies beyond the longest time known, %v: make a second exposure of twice the time",
	"reciprocity_below":        "%v lies below the shortest time known, %v; between them the loss is taken to fade as it does with most films",
	"reciprocity_one_exponent": "one exponent does not hold over a wide range of times; at %v it is a guess",
	"contrast_rises":           "at %s stops more than metered the shadows gain less than the highlights, so contrast rises; develop less, as for N-1, if the highlights matter (common practice, no source)",
	"reciprocity_no_loss":      "the tests show no loss of speed, so nothing is added",
	"reciprocity_exponent":     "the exponent of the law comes out at its limit, %.2f: the times do not follow the law well",

	// sensito/compare
	"not_compared":    "%s: %v",
	"shared_exposure": "%s: exposures written alike are taken to share the error of lamp and shutter, ±%.2f log H, which then does not count in a difference of speed",
	"shared_change":   "%s: of one developer, so the temperature coefficient and factors that no strip measured are taken to err alike in each; as far as they do, they do not count in a difference of times",
	"zeros_differ":    "the densitometer was zeroed on air (%s) and on the film base (%s): base plus fog is not compared between the two",
	"channels_differ": "the negatives were read in different channels, %s: a stained one has other densities in each, so that differences of contrast, speed and fog are of the channels too",
	"wedge_too_short": "the exposures do not reach net density %.2f, so the curve cannot be held against a straight line",
	"extrapolated":    "straightness needs the curve %.2f log H beyond the last step read",
	"toe_not_shown":   "the exposures do not show where the toe begins: the curve is steep already at their faint end",
	"no_shoulder":     "the wedge does not show the end of the usable range, which is longer than %.2f log H",
	"no_max_density":  "the density still rises at the last step, from a net %.2f",

	// sensito/control
	"one_reference_strip": "the centre is one reference strip, and its own error shifts every chart, so that a drift may be called where there is none; read several strips and give their mean as the aim",
	"usual_repeatability": "limits rest on a usual repeatability of %g, since the log states none and has fewer than %d strips to show their own: state repeatability in the log, or [limits]",
	"baseline_not_needed": "the log states aim and limits, so that no baseline is used",
	"limits_move":         "all %d strips are the baseline, so the limits still move with every strip, and would follow a drift; they stand from the %dth strip on",
	"few_baseline_strips": "limits rest on %d strips, whose scatter is uncertain by %.0f %%; a baseline of %d or more, or stated limits, give fewer false signals",
	"baseline_drifts":     "%s changes by %+.3f over the baseline itself, so its centre is that of no steady process: state an aim, or mark other strips",
	"coarse_readings":     "%s: the baseline varies less than a densitometer reads, so its limits are set to %.3f on both sides; state them in [limits]",
	"no_minutes":          "the log does not say for how long its strips are developed, so the trial cannot say what a change means: add minutes",
	"no_change_told":      "what the change means in time and in speed: %v",
	"no_trial":            "what a change means in time needs a trial of the same film and developer, and speed is surer with one",
	"no_trial/2":          "what a change means in stops and in time needs a trial of the same film and developer",
	"high_beyond_trial":   "the high patch lies beyond the exposures of the trial's strips: its density is taken to change as %.0f %% of the difference do, which they show",
	"time_extrapolated":   "the time to come back to the aim lies outside the trial's tested times",

	// sensito/curve
	"smooth_curve":        "no curve of toe, line and shoulder follows the readings, so a smooth rising curve was drawn through them",
	"reversal":            "beyond its densest part the film gets lighter with more exposure, it reverses (solarisation): readings left out, step %s",
	"strip_astray":        "lies %+.2f log H from where the others have a strip of its contrast, and is taken by itself: was it exposed otherwise?",
	"strip_disagrees":     "it does not agree with the others on speed or contrast: was it exposed or developed otherwise, keyed in a step off, or is it of another batch?",
	"shape_differs":       "the curves of the strips differ in shape more than their readings explain: all errors are %.1f times as wide; was one developed otherwise, or does the developer change the film's shape?",
	"bases_differ":        "base plus fog differs from strip to strip by about %.2f beside what their contrast explains, so each is told by its own readings: check the zero of the densitometer; fog that grows after contrast has ended does this too",
	"bases_differ/2":      "base plus fog lies %+.2f from where the others have a strip of its contrast: is it another base, was it fogged, or has the zero of the densitometer moved?",
	"set_aside":           "%s reads %s where the curve has %s: set aside; read it again",
	"not_complete":        "the strip is still being keyed in: step %d comes next",
	"below_base":          "its faintest steps read %s, below its %s of %s, which no strip is: were they read with %s taken off? then its %s is 0",
	"lack_of_fit":         "the readings scatter by %.3f about the curve, more than the repeatability of %.3f explains",
	"base_not_read":       "there is no reading of %s and the faintest step is not down on it: it is extrapolated from the toe; read an unexposed piece",
	"no_curve":            "%s",
	"no_uncertainty":      "the readings do not determine every part of the curve, so no quantity can be given with its uncertainty",
	"other_conditions":    "developed otherwise than the trial: %s",
	"other_exposure":      "exposed for %v, the trial for %v: in dim light film loses speed, so the two do not compare",
	"relative_exposure":   "%v; a frame in the camera (exposure.frame) or reference_speed_point_log_h ties them down",
	"zero_on_base":        "the densitometer was zeroed on the base: densities are above it, and base plus fog is what the fog adds",
	"wedge_too_short/2":   "the exposures do not reach far enough for %s (%v)",
	"no_uncertainty/2":    "the readings do not determine %s closely enough for an uncertainty",
	"extrapolated/2":      "%s lies %.2f log H below the faintest step read",
	"extrapolated/3":      "%s needs the curve %.2f log H beyond the last step read",
	"strip_copied":        "%s",
	"reflection_pictured": "read in pictures (%s): scanner and camera do not see a paper at 45° and 0°, as reflection densities of ISO 5-4 are read, and gloss and texture decide by how much they differ; take the densities relative to each other: no range and no speed is called that of ISO 6846",
	"relative_exposure/2": "the exposures are relative, so there is a range but no speed",
	"zero_on_base/2":      "the densitometer was zeroed on the paper: densities are above it",
	"no_curve/2":          "%v",
	"wedge_too_short/3":   "the exposures do not reach far enough for %s",
	"extrapolated/4":      "%s lies %.2f log H beyond the last step read",
	"black_not_reached":   "the exposures end before black: black and range are at least what the densest step shows, the paper may need more; expose its wedge until two steps agree in black",
	"white_not_reached":   "the exposures begin beyond white: the range is at least what the steps show%s; expose its wedge less until two steps agree in white%s",
	"speed_not_reached":   "the densest step lies less than 0.60 above white, where speed is judged: it is at most what the last step gives",
	"speed_not_reached/2": "the faintest step lies more than 0.60 above white, where speed is judged: it is at least what that step gives",

	// sensito/darkroom
	"ounce_assumed":       "%s: taken as US measure, in which a fluid ounce is %.2f ml; the imperial one is %.2f ml: write usfloz or impfloz",
	"least_volume":        "%s is the least for the films; see that it covers them in the vessel",
	"tank_not_full":       "%s leave a vessel of %s part full: film that stands out of the developer stays bare, unless the vessel is a drum that turns",
	"colon":               "%s:%s is read as %s, %s in %s; who reads it as %s in %s takes %s: %s",
	"topped_up":           "%s and %s of water make %s, %s; %s topped up to %s would be %s",
	"topped_up/2":         "%s topped up to %s is %s; %s and %s of water would be %s",
	"hard_to_measure":     "measured like this the strength may be off by %.0f %%: %s",
	"least_unknown":       "how much concentrate so much film needs at least was not stated: take it from the product's sheet; it is %s for 80 sq in here",
	"developer_reused":    "use %d of the developer: the time of the trial is that of its strips; a developer that was used works slower unless it is replenished",
	"clearing_unmeasured": "step %d, %s: the clearing time was not measured, so its time is left to be filled in, %s; put a leader of the film into the fixer in room light and time until the milkiness is gone",
	"bath_temperature":    "step %d, %s, at %s is more than %d °C from the developer: gelatin may reticulate (common practice, no source)",
	"other_developer":     "the procedure develops in %s, the trial in %s: the sheet is for the latter",
	"no_vessel":           "how much to mix is not told, since the vessel is not",
	"no_dilution":         "the trial does not say how its developer was diluted: state it in [process]",
	"films_unknown":       "whether %s of concentrate are enough is not known, since the films are not",
	"bath_exhausted":      "%s, mixed %s: with the films of today it has had %.0f of the %.0f sq in that %s bears by its capacity of %s: mix it fresh",
	"shuffle_quick":       "%d sheets in %g s are one every %.2g s, too quick for wet hands: at most %d sheets at once (common practice, no source), or state shuffle_seconds in the procedure",
	"log_old":             "the last control strip is of %s, %.0f days before: develop one before relying on what the log says of today (common practice, no source)",
	"process_corrected":   "time and index are corrected for the process of %s, the last strip of the control log, and so for the bath in which that is developed; the trial itself says %s%s",

	// sensito/development
	"agitation_guessed":    "%s in place of %s: %s; a strip developed so in this trial would measure it",
	"dilution_guessed":     "%s in place of %s: %s; a strip developed so in this trial would measure it",
	"temperature_unusual":  "%s is outside the %d to %d °C of hand processing, where developers keep their character: the time is less sure than its interval says",
	"temperature_beyond":   "%s is beyond the %g to %g °C of the strips: the coefficient measured there is taken to hold on",
	"strip_left_out":       "%v",
	"strip_left_out/2":     "its readings do not determine the curve",
	"other_conditions/2":   "left out, developed under other conditions than the trial: %s",
	"strip_left_out/3":     "%d of %d strips have no contrast: their exposures do not reach far enough",
	"one_strip":            "strips of one time, %s, tell neither rate nor drift of speed: those of usual developers stand for yours, give or take a factor of two (common practice, no source); develop a second strip for twice or half the time",
	"two_strips":           "the rate rests on two strips and nothing checks it; develop a third",
	"two_strips/2":         "the rate and what temperature does to it rest on as few strips as can be, and nothing checks them; develop another",
	"no_limit":             "contrast still grows in proportion to time: these strips do not show where it ends; develop one for longer",
	"strips_scatter":       "the strips scatter %.1f times as much about the law of growth as their readings explain; the uncertainties are widened to match",
	"strip_off_law":        "its contrast is %+.0f %% off that which the law of the other strips gives its time: was it developed for another time, or otherwise?",
	"not_iso":              "readings are from pictures, so these are not ISO 5 densities, no speed here is an ISO speed, and the contrast condition of ISO 6 is not judged",
	"not_iso/2":            "readings of %s are from pictures, so these are not ISO 5 densities, no speed here is an ISO speed, and the contrast condition of ISO 6 is not judged",
	"iso_outside":          "the ISO contrast condition would be met at %s, outside the tested times",
	"other_exposure/2":     "left out of contrast and speed against time, exposed for another time than the %v of the trial: %s",
	"reciprocity_untested": "the strips exposed for other times give no law of reciprocity: %v",
	"reciprocity_stated":   "the reciprocity data stated are used, not the strips exposed for other times%s",
	"long_contrast":        "long exposures %s contrast: measured %+.2f ±%.2f in %s at %v against %v, developed alike",
	"tied_by_frame":        "relative exposures are tied down by a frame in the camera, read as %s: to ±%.2f stops, which is in every speed",
	"frame_not_used":       "exposures stay relative: %v",
	"speed_after_loss":     "the strips were exposed for %v, at which the film has lost %.1f stops of its speed: the index is lower than for short exposures, and times corrected for reciprocity come out so much too long",
	"vague_q10":            "the strips tell the temperature coefficient to %.0f %% only, less well than the %.0f %% by which developers differ: develop some further apart in temperature",
	"other_temperature":    "left out, developed at another temperature than the trial: %s; %v",

	// sensito/listing
	"strip_unfinished":    "strip %d stops at step %d of %d",
	"strip_unread":        "no step read yet: %s",
	"base_fog_unread":     "base plus fog not read: %s",
	"process_unstated":    "not stated: %s",
	"relative_exposure/3": "exposures are relative, so no speed",
	"one_time":            "one development time only, so no rate: develop a strip for another",
	"no_family":           "%v",
	"no_normal_time":      "no normal time: %v",
	"wedge_too_short/4":   "exposures too short for a speed point: %s",
	"wedge_too_short/5":   "exposures too short for a contrast: %s",
	"relative_exposure/4": "exposures are relative, so a range but no speed",
	"wedge_too_short/6":   "exposures do not reach from white to black: %s",
	"black_not_reached/2": "exposures end before black: %s",
	"white_not_reached/2": "exposures begin beyond white: %s",
	"baseline_too_short":  "%s",
	"log_unread":          "a control log beside the trial cannot be read: %s",

	// sensito
	"repeats_differ": "step %d was read as %s, further apart than the repeatability of %.3f explains: read it again",

	// sensito/picture
	"step_beyond_mark":    "an edge lies a whole step beyond the %s mark: look whether the row has more than %d steps, or the marks are a step off",
	"row_turns":           "step %d goes against the order of the others: look whether the %s mark is a step beyond the end of the row",
	"step_at_full":        "step %d is at the top of the range in %.1f %% of its pixels, so it is read too dense: expose less",
	"step_at_black":       "step %d is at the bottom of the range in %.1f %% of its pixels, so its light is not known: expose more, and have no black taken off",
	"step_set_aside":      "step %d: %.0f %% of its pixels were set aside as dust or scratches: clean it and picture it again",
	"step_uneven":         "step %d: its quarters differ by %.3f in density: rings or uneven light; turn it and picture it again",
	"tablet_step_clipped": "step %d of the tablet is at the %s of the range and is left out",
	"tablet_ends":         "steps %d and %d of the tablet read alike (%.5f): the device ends at %.1f, and what is denser is left out",
	"tablet_not_silver":   "the tablet is of %s, which scatters light otherwise than film: the scale of density is sure to %.0f %% only, until a densitometer reads a clear, a middle and a dense step",
	"tones_corrected":     "the curve of the tones has an S, so the software corrected them: turn it off, or calibrate every picture",
	"jpeg_tones":          "a JPEG is processed and its tones follow the scene: the calibration holds for strips in the same picture alone; save 16 bits as TIFF or PNG",
	"encoding_not_kept":   "the encoding told, %s, is not kept: the tablet fits %.3f of its exponent, ±%.3f; any rising curve is taken in its place",
	"encoding_not_kept/2": "the encoding told, %s, and glare do not follow the tablet: chi squared is %.1f a degree of freedom, and residuals side by side agree by %.2f; any rising curve is taken in its place",
	"encoding_not_kept/3": "under the encoding told, %s, the tablet shows no light; any rising curve is taken in its place",
	"encoding_not_kept/4": "too few steps of the tablet are read to bear out the encoding told, %s: its exponent is sure to ±%.3f; any rising curve is taken in its place",
	"glare_not_checked":   "nothing tells whether surround, lid and mask are those of the calibration: lay black tape beside tablet and strip alike",
	"glare_differs":       "the black tape reads %.4f of clear here and %.4f in the calibration: surround, lid or mask differ; picture both alike",
	"exposure_differs":    "the exposure differs by %.1f %% from the calibration: automatic exposure is on",
	"light_falls_off":     "the light differs by %.1f %% along the strip: an index, and less so contrast and time, may err by more than their intervals say: picture the empty table alike, which makes it even",
	"light_falls_off/2":   "made even by the empty table, the light still differs by %.1f %% along the strip: was that picture made from the same place, with nothing on the table?",
	"light_not_checked":   "nothing beside the steps tells whether the light is even; where it is not, an index, and less so contrast and time, err by more than their intervals say: picture the empty table alike, which makes it even",
	"step_not_read":       "no density at step %s: %s",
	"step_unsure":         "step %s is known to worse than ±%.3f by itself and is left out of the trial: light beside it, or dirt, may move it; mask it, or clean it",
	"eight_bits":          "the picture has 8 bits: its steps are read with an error for rounding; save 16 bits",
	"coloured":            "the negative is coloured: %s %.2f of %s; state one channel, never an average",
	"picture_without_fog": "base plus fog was not marked and is left out: the curve has to tell it from its toe, and the error of a speed becomes half as large again or twice as large",

	// sensito/scene
	"strip_extrapolated":   "the lightest tone needs curves up to %.2f log H beyond their last step (%s); the interval counts that a shoulder may begin there",
	"strip_extrapolated/2": "speed points lie up to %.2f log H below the faintest step (%s): give the next strips less exposure",
	"on_shoulder":          "the lightest tones lie on the shoulder of the film, where they are hardly told apart; it shortens the range, not the development. Less exposure (%.3g stops or so from the metered tone to the speed point, in place of %.3g) keeps them off it, at the cost of the darkest",
	"on_shoulder/2":        "the lightest tones lie on the shoulder of the film, where they are hardly told apart; it shortens the range, not the development. Less exposure, by a stop or so (an index twice as high), keeps them off it, at the cost of the darkest",
	"extrapolated/5":       "some tones need the film's curve beyond the exposures of its strips",
	"extrapolated/6":       "%s",
	"relative_exposure/5":  "%v, and no exposure index; a frame in the camera (exposure.frame) or reference_speed_point_log_h ties them down",
	"out_of_paper":         "%s: a negative of density range %.2f needs a paper of ISO range %.0f, and the papers go from %.0f to %.0f%s",
	"out_of_paper/2":       "%s: a negative of density range %.2f needs a paper of log range %.2f, and the papers go from %.2f to %.2f%s",
	"longer_time":          "%s",
	"short_time":           "under 5 minutes development is easily uneven (common practice, no source); a higher dilution or lower temperature gives a longer time",
	"strip_left_out/4":     "%d of %d strips do not reach from their speed point over the %.2f log H of this scene",
	"other_paper":          "within the tested times %s",
	"zero_on_base/3":       "the densitometer was zeroed on the base, so the density for the scan is above it: take the density of the base off what the scanner bears",
	"other_index":          "within the tested times EI %s is the highest that keeps that tone, at %s",
	"open_interval":        "the strips do not exclude that the aim is out of reach, so the time has no upper limit: develop a strip for longer",
	"extrapolated/7":       "%s lies outside the tested times of %s to %s",
	"scan_fog":             "base plus fog has changed by %+.2f since the trial, so the densest tone of the scan gets about %.2f, not %.2f",
	"veil_large":           "a veil of %.2g of the field is more than any lens has: was the hollow black, and no light on it?",

	// sensito/testplan
	"wedge_too_short/7": "the strong end lies %.2f log H short of a scene of eight stops on a film a stop slower than its box: a wedge of more range, or a second exposure of a stop more, reaches further",
	"times_alike":       "the times are so short that %d strips differ by 15 seconds or more",
	"short_exposure":    "%g s is hard to time with a lamp: dim it and give longer (common practice, no source)",
	"long_exposure":     "at %g s the film no longer follows the reciprocity law, and is slower than in the camera: more light for a shorter time",
	"rate_guessed":      "these strips give no rate of development, so the intervals rest on a guess: that development was %.0f %% complete by %.1f min. Plan again when a strip is developed",
	"not_met":           "within %.3g %% is not reached: %s",
	"test_the_paper":    "no strip of film gives the time an upper limit, since the paper may need more than its test shows: test the paper first, then plan again",
	"common_error":      "however many strips are developed as in the trial, the answer stays uncertain by %.1f %%, because of %s%s",
	"process_decides":   "%.0f %% of the error of the time now is how the process varies, which these strips alone tell: if you know how far your thermometer and clock vary, state temperature_sd_c and time_sd_s of [process]; every strip more tells it too",
	"law_beyond":        "strips outside the tested times of %s are planned on the law that those follow; what they show may move the answer as well as its interval",
}
