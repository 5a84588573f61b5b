package web

import (
	"errors"
	"fmt"
	"net/http"
	"reflect"
	"slices"

	"withy/steambox"
	"withy/steambox/calibrate"
)

// Calibrator calibrates the probes of the running box. Its methods are called from many
// goroutines.
//
// Calibrate and EndCalibration return a *steambox.RefusedError where they can't be done
// now. An id that was told before counts once.
type Calibrator interface {
	// Calibration returns how the newest calibration stands.
	Calibration() Calibration
	// Calibrate begins one, the tips of all probes together in a place.
	Calibrate(id string, place calibrate.Place) error
	// EndCalibration stops the one that goes on with nothing kept; where none does, it
	// takes the word that the tips hang in the box again.
	EndCalibration(id string) error
}

// CalibrationState is how a calibration stands.
type CalibrationState string

// The states.
const (
	CalibrationOff     CalibrationState = "off"      // there was none since the program began
	CalibrationGoes    CalibrationState = "watching" // until the tips rest
	CalibrationKeeps   CalibrationState = "keeping"  // what was found
	CalibrationKept    CalibrationState = "kept"
	CalibrationDoubted CalibrationState = "doubted" // what was read can't be true; nothing is kept
	CalibrationLate    CalibrationState = "late"    // they never rested there; nothing is kept
	CalibrationStopped CalibrationState = "stopped" // nothing is kept
	CalibrationFailed  CalibrationState = "failed"  // it was found, and could not be kept
)

// Calibration is how a calibration of the probes stands.
type Calibration struct {
	State  CalibrationState   `json:"state"`
	Place  calibrate.Place    `json:"place,omitempty"` // where the tips lie, or lay
	Out    bool               `json:"out"`             // they are out of the box, and what they read is not taken for it
	SinceS float64            `json:"since_s"`         // since it began
	Says   []string           `json:"says"`            // how it stands and what to do
	Probes []CalibratedProbe  `json:"probes"`
	Places []CalibrationPlace `json:"places"` // where one can be begun, the best first
}

// CalibratedProbe is one probe in a calibration.
type CalibratedProbe struct {
	Name  string   `json:"name"`
	Says  string   `json:"says"`             // how well it is known, and since when
	TempC *float64 `json:"temp_c,omitempty"` // uncorrected: now, or at rest once that is found
	Rests bool     `json:"rests"`
	AddK  *float64 `json:"add_k,omitempty"` // what is added to it from here on
	// FollowsS is how long it takes for 63 % of the way, in seconds, where that was found.
	FollowsS *float64 `json:"follows_s,omitempty"`
}

// CalibrationPlace is where the tips can be put.
type CalibrationPlace struct {
	Place calibrate.Place `json:"place"`
	Says  []string        `json:"says"` // how, and what to beware of
}

// Bath asks for a calibration.
type Bath struct {
	ID    string          `json:"id"` // made by the client; one that is sent twice counts once
	Place calibrate.Place `json:"place"`
}

// calibration answers with how it stands.
func (s *server) calibration(w http.ResponseWriter, _ *http.Request) {
	s.answer(w, s.settings.Calibrator().Calibration())
}

// calibrate begins a calibration.
func (s *server) calibrate(w http.ResponseWriter, r *http.Request) {
	body, ok := jsonBody(w, r)
	if !ok {
		return
	}
	var bath Bath
	if err := strictly(body, &bath); err != nil || !validID(bath.ID) || !slices.Contains(calibrate.Places, bath.Place) && bath.Place != calibrate.Steam {
		refuse(w, http.StatusBadRequest, fmt.Sprintf("A calibration is an id of 1 to %d characters and the place of the tips: pot, box or ice, or steam for how slowly they follow.", mostID))
		return
	}
	s.calibrated(w, s.settings.Calibrator().Calibrate(bath.ID, bath.Place))
}

// endCalibration ends one.
func (s *server) endCalibration(w http.ResponseWriter, r *http.Request) {
	id := r.URL.Query().Get("id")
	if !validID(id) {
		refuse(w, http.StatusBadRequest, fmt.Sprintf("id: 1 to %d characters, made by the client.", mostID))
		return
	}
	s.calibrated(w, s.settings.Calibrator().EndCalibration(id))
}

// calibrated answers with how it stands now, or why that can't be done.
func (s *server) calibrated(w http.ResponseWriter, err error) {
	if refused := (*steambox.RefusedError)(nil); errors.As(err, &refused) {
		refuse(w, http.StatusConflict, refused.Why)
		return
	}
	if err != nil {
		s.inside(w, http.StatusInternalServerError, "That can't be done just now.", err)
		return
	}
	s.answer(w, s.settings.Calibrator().Calibration())
}

// calibrationRoutes are those by which the probes are calibrated.
func (s *server) calibrationRoutes() []route {
	stands := []reply{{http.StatusOK, "How it stands.", asJSON, reflect.TypeFor[Calibration]()}}
	changed := append(slices.Clip(stands),
		problem(http.StatusBadRequest, "It is malformed."), problem(http.StatusForbidden, "A page from elsewhere sent it."),
		problem(http.StatusConflict, "It can't be done now; why, in a sentence."), problem(http.StatusInternalServerError, "It can't be written out."))
	return []route{
		{method: "GET", path: "/api/calibration", handler: http.HandlerFunc(s.calibration),
			does: "How the calibration of the probes stands, and how old what is known of them is.", answers: stands},
		{method: "POST", path: "/api/calibration", handler: http.HandlerFunc(s.calibrate),
			does: "Begin to calibrate the probes, their tips together in a place whose temperature is known, or put into steam at one stroke. What is found is kept and in use at once.",
			body: reflect.TypeFor[Bath](), answers: append(slices.Clip(changed),
				problem(http.StatusRequestEntityTooLarge, "It is too long."), problem(http.StatusUnsupportedMediaType, "It is not JSON."))},
		{method: "DELETE", path: "/api/calibration", handler: http.HandlerFunc(s.endCalibration),
			does:   "Stop it, with nothing kept; where it is over, tell that the tips hang in the box again.",
			params: []param{{"id", "query", "Made by the client; one that is sent twice counts once.", "string"}}, answers: changed},
	}
}
