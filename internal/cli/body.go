package cli

import (
	"context"

	"github.com/spf13/cobra"

	"carryover/internal/body"
	"carryover/internal/job"
	"carryover/internal/plane"
	"carryover/internal/words"
)

type bodyOptions struct {
	shared
	pitch, swing, peak, elbow, step float64
}

func (a *app) bodyCommand() *cobra.Command {
	var o bodyOptions
	usual := body.UsualHabits()
	cmd := &cobra.Command{
		Use:   "body BIKE [TO] --rider FILE",
		Short: "What the joints do on a bike through a whole turn, and on another",
		Long: `Closes the linkage of crank, foot, shank and thigh through a whole turn, and trunk and arms over it:
knee, hip, ankle, shoulder and elbow, the trunk's angle, the knee ahead of the pedal. With TO, the
position is carried there first, and each difference that is left - crank, saddle, hands - is shown
in degrees.

The rider file gives the lengths of segments, or the height to estimate them from (Drillis & Contini
1966, in Winter 2009); each is marked as measured, estimated or assumed; the inseam is kept for the
fitter, nothing is worked out from it. The foot is taken to stand at a stated pitch over the turn.
The numbers describe geometry; they are no medical claim.

A body that does not close - a leg that does not reach - is said so, and the exit code is 1; where a
contact is not carried to TO it is 3.`,
		Example: `  carryover body example:road --rider example:rider
  carryover body example:road example:studio --rider example:rider --step 15`,
		Args: o.many.args(1, oneOrTwo),
		RunE: func(cmd *cobra.Command, args []string) error {
			return answers(cmd.Context(), a, args, o.shared, about[*job.Ride]{
				answer: func(ctx context.Context, w shared) (*job.Ride, error) { return a.ride(ctx, w, o) },
				text:   func(p *words.Page, r *job.Ride) { p.Ride(r, o.more) },
				rows:   func(r *job.Ride) [][]words.Cell { return append(words.RideCells(r), cannot(r.Carry)...) },
				end:    closes,
			})
		},
	}
	f := cmd.Flags()
	o.flags(f, has{posture: "only posture `NAME` (default: every posture)", rider: "with height or segment lengths",
		more: "every joint, the body's lengths and the whole turn", many: "bike, to, rider and posture", follow: true, json: true})
	bounded(f, limited{&o.pitch, "foot-pitch", -60, 60, "°"}, plane.Deg(usual.Pitch.Mean), "sole at `DEGREES` on average, toes up positive")
	bounded(f, limited{&o.swing, "foot-swing", 0, 45, "°"}, plane.Deg(usual.Pitch.Swing), "swing of `DEGREES` about that")
	bounded(f, limited{&o.peak, "foot-peak", -360, 360, "°"}, plane.Deg(usual.Pitch.Peak),
		"where the toes are highest, `DEGREES` of crank past the top")
	bounded(f, limited{&o.elbow, "elbow", 60, 180, "°"}, plane.Deg(usual.Elbow), "elbows open to `DEGREES` over hoods and drops")
	bounded(f, limited{&o.step, "step", 0, 180, "°"}, 30, "list the turn every `DEGREES`, at least 1; 0: not at all")
	return cmd
}

// ride puts a rider on a bike, and on another that the position is carried to.
func (a *app) ride(ctx context.Context, w shared, o bodyOptions) (*job.Ride, error) {
	switch {
	case w.rider == "":
		return nil, usagef("body needs --rider FILE with height or segment lengths")
	case o.step > 0 && o.step < 1:
		return nil, usagef("--step is 1 to 180°, or 0, not %g", o.step)
	}
	q, err := a.asked(w)
	if err != nil {
		return nil, err
	}
	habits := body.Habits{Elbow: plane.Rad(o.elbow),
		Pitch: body.Pitch{Mean: plane.Rad(o.pitch), Swing: plane.Rad(o.swing), Peak: plane.Rad(o.peak)}}
	return a.files.Ride(ctx, q, habits, plane.Rad(o.step))
}

// closes is an error where the rider does not fit, or a contact is not carried.
func closes(r *job.Ride) error {
	if !r.Closes() {
		return errReported
	}
	return carried(r.Carry)
}
