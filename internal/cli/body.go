package cli

import (
	"context"
	"strings"

	"github.com/spf13/cobra"

	"carryover/internal/body"
	"carryover/internal/job"
	"carryover/internal/plane"
	"carryover/internal/words"
)

type bodyOptions struct {
	followOptions
	posture, rider                  string
	pitch, swing, peak, elbow, step float64
	more, json                      bool
	many                            manyOptions
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
			if o.many.source != "" {
				return a.many(cmd.Context(), o.many, strings.Join(args, ""), o.rider, o.posture,
					func(ctx context.Context, c client) ([][]words.Cell, error) {
						r, err := a.ride(ctx, c, o)
						if err != nil {
							return nil, err
						}
						return append(words.RideCells(r), cannot(r.Carry)...), closes(r)
					})
			}
			return a.body(cmd.Context(), args, o)
		},
	}
	f := cmd.Flags()
	f.StringVar(&o.rider, "rider", "", "take the rider from `FILE`, with height or segment lengths")
	f.StringVar(&o.posture, "posture", "", "only posture `NAME` (default: every posture)")
	o.followOptions.flags(f)
	f.Float64Var(&o.pitch, "foot-pitch", plane.Deg(usual.Pitch.Mean), "sole at `DEGREES` on average, toes up positive")
	f.Float64Var(&o.swing, "foot-swing", plane.Deg(usual.Pitch.Swing), "swing of `DEGREES` about that")
	f.Float64Var(&o.peak, "foot-peak", plane.Deg(usual.Pitch.Peak), "where the toes are highest, `DEGREES` of crank past the top")
	f.Float64Var(&o.elbow, "elbow", plane.Deg(usual.Elbow), "elbows open to `DEGREES` over hoods and drops")
	f.Float64Var(&o.step, "step", 30, "list the turn every `DEGREES`; 0: not at all")
	f.BoolVar(&o.more, "more", false, "also every joint, the body's lengths and the whole turn")
	f.BoolVar(&o.json, "json", false, "print JSON")
	o.many.flags(f, "bike, to, rider and posture")
	return cmd
}

// habits checks and converts what is assumed of the rider.
func (o bodyOptions) habits() (body.Habits, error) {
	for _, k := range []struct {
		flag      string
		v, lo, hi float64
	}{{"foot-pitch", o.pitch, -60, 60}, {"foot-swing", o.swing, 0, 45}, {"foot-peak", o.peak, -360, 360}, {"elbow", o.elbow, 60, 180}} {
		if !(k.v >= k.lo && k.v <= k.hi) {
			return body.Habits{}, usagef("--%s is %g to %g°, not %g", k.flag, k.lo, k.hi, k.v)
		}
	}
	if !(o.step == 0 || o.step >= 1 && o.step <= 180) {
		return body.Habits{}, usagef("--step is 1 to 180°, or 0, not %g", o.step)
	}
	return body.Habits{Elbow: plane.Rad(o.elbow), Pitch: body.Pitch{Mean: plane.Rad(o.pitch), Swing: plane.Rad(o.swing),
		Peak: plane.Rad(o.peak)}}, nil
}

// ride puts a client on a bike, and on another that the position is carried to.
func (a *app) ride(ctx context.Context, c client, o bodyOptions) (*job.Ride, error) {
	if c.rider == "" {
		return nil, usagef("body needs --rider FILE with height or segment lengths")
	}
	habits, err := o.habits()
	if err != nil {
		return nil, err
	}
	q, err := a.asked(c.from, c.to, c.posture, c.rider, o.followOptions)
	if err != nil {
		return nil, err
	}
	return a.files.Ride(ctx, q, habits, plane.Rad(o.step))
}

func (a *app) body(ctx context.Context, args []string, o bodyOptions) error {
	r, err := a.ride(ctx, client{from: args[0], to: strings.Join(args[1:], ""), rider: o.rider, posture: o.posture}, o)
	if err != nil {
		return err
	}
	return a.answer(o.json, r, func(p *words.Page) { p.Ride(r, o.more) }, closes(r))
}

// closes is an error where the rider does not fit, or a contact is not carried.
func closes(r *job.Ride) error {
	if !r.Closes() {
		return errReported
	}
	return carried(r.Carry)
}
