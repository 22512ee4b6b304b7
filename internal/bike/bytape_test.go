package bike_test

import (
	"testing"

	"github.com/stretchr/testify/assert"

	"carryover/internal/bike"
	"carryover/internal/cockpit"
	"carryover/internal/plane"
	"carryover/internal/saddle"
)

func TestWhatNothingHoldsIsSetByTape(t *testing.T) {
	fitted := func() *bike.Bike {
		b := &bike.Bike{}
		b.Saddle.Options = []bike.Option[saddle.Shape]{{ID: "inline", Part: &saddle.Shape{}}}
		b.Bar.Options = []bike.Option[cockpit.Bar]{{ID: "inline", Part: &cockpit.Bar{}}}
		return b
	}
	names := func(b *bike.Bike) (all []string) {
		for _, a := range b.Adjusters {
			assert.True(t, a.NoScale)
			all = append(all, a.Name)
		}
		return all
	}
	bare := fitted()
	loose := bare.SetByTape()
	assert.Equal(t, []string{"saddle height", "saddle setback", "bar height", "bar reach"}, names(loose))
	assert.True(t, loose.Saddle.Tilt.Free, "a tilt that nothing states can be set")
	assert.True(t, loose.Bar.Rotation.Free, "so can a rotation")
	bare.Bar.Rotation = bike.Fixed(0.1)
	assert.Equal(t, bike.Fixed(0.1), bare.SetByTape().Bar.Rotation, "a stated one stays")
	bare.Bar.Rotation, bare.Adjusters = bike.Setting{}, []bike.Adjuster{{Moves: bike.MovesBarRotation, NoScale: true}}
	assert.Zero(t, bare.SetByTape().Bar.Rotation, "one with a dial is set by it")
	bare.Adjusters = nil
	assert.Empty(t, bare.Adjusters, "the bike itself stays as it was read")
	assert.Nil(t, bare.SaddleAnchor)

	held := fitted()
	held.SaddleAnchor, held.BarAnchor = &plane.Point{}, &plane.Point{}
	assert.Empty(t, held.SetByTape().Adjusters, "an anchor without adjusters is a saddle that does not move")

	stemmed := fitted()
	stemmed.Stem = &bike.StemFit{}
	stemmed.Saddle.Tilt = bike.Fixed(0)
	loose = stemmed.SetByTape()
	assert.Equal(t, []string{"saddle height", "saddle setback"}, names(loose), "a stem holds its bar")
	assert.False(t, loose.Saddle.Tilt.Free, "a stated tilt stays")
}
