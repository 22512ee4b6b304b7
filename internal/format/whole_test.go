package format_test

// These documents use, between them, every key and every form of a value that the files have. All are invented.

const wholeSource = `
schema = 1
name = "source"
date = "2026-11-20"
fitter = "A. Fitter"
notes = "after the winter"
frame = { pitch = 0.6, bb_height = 270.0, seat_angle = 73.0, head_angle = 72.5, stack = 560.0, reach = 385.0, cover = 8.0,
	front_axle = 600.0 }
feet = { crank = 172.5, sole_height = 24.0, q_factor = 146.0 }
saddle = { part = "classic-280", clamp_at = 150.0, tilt = 0.5, stretch = { length = 282.0, width = 148.0 } }
bar = { part = "compact-420", lever = { hollow = [36.0, 22.0], angle = 8.0, name = "own", sigma = 2.0 }, lever_at = 4.0,
	rotation = 0.0, clamp_width = 44.0 }
stem = { part = "stem-100", spacers = 10.0, flip = false }
clipon = { part = "clip-low", tilt = 5.0, hole = 0.0, stack = 10.0, spacing = 200.0, extension = 300.0 }

[posture]
road = { hands = "hood", support = "sit-bones", weights = { extension = 3.0, setback = 1.0, hands = 2.0, angle = 1.0 } }
aero = { hands = "pad", support = 85.0, support_sigma = 2.0 }
drops = { hands = "drop", support = "at:170" }
`

const wholeReadings = `
schema = 1
frame = { bb_height = 270.0, seat_angle = 73.0 }
feet = { crank = 172.5, sole_height = 24.0 }
saddle = { part = "classic-280" }

[[reading]]
kind = "saddle-height"
by = "A. Fitter"
date = "2026-11-20"
at = "mid"
value = 740.0
sigma = 2.0
[[reading]]
kind = "setback"
at = "width:80"
value = 60.0
[[reading]]
kind = "nose-to-bar"
value = 520.0
[[reading]]
kind = "reach"
at = "saddle.nose"
to = "drop"
value = 560.0
[[reading]]
kind = "drop"
at = "widest"
to = "hood"
value = 60.0
[[reading]]
kind = "floor-height"
to = "bar"
value = 900.0
[[reading]]
kind = "saddle-tilt"
value = -1.0`

const wholePlain = `
schema = 1
frame = { bb_height = 270.0, seat_angle = 73.0 }
feet = { crank = 172.5, sole_height = 24.0 }
saddle = { part = "classic-280" }
clipon = { part = "clip-low" }

[[reading]]
kind = "line"
from = "bb"
to = "saddle.at:100"
value = 720.0
[[reading]]
kind = "line"
from = "bar"
to = "pad"
value = 120.0
[[reading]]
kind = "level"
from = "bb"
to = "pad.rear"
value = 380.0
[[reading]]
kind = "plumb"
from = "floor"
to = "pad.front"
value = 980.0
[[reading]]
kind = "angle"
of = "pad"
value = 5.0
[[reading]]
kind = "seat-tube"
value = 741.0
`

const wholeTarget = `
schema = 1
feet = { crank = 170.0, cranks = [165.0, 170.0], sole_height = 24.0 }
frame = { bb_height = 280.0, head_angle = 73.0 }
steerer = { top = [385.0, 570.0] }
saddle = { parts = ["short-25*", "classic-270"], clamp_at = [100.0, 180.0], tilt = [-5.0, 5.0] }
bar = { parts = ["compact-420"], levers = ["lever-mi*"], lever_at = [0.0, 20.0], rotation = [-5.0, 5.0] }
stem = { parts = ["stem-100-1*"], spacers = { max = 30.0, step = 5.0 } }
anchor = { saddle_clamp = [-150.0, 520.0] }
marks = { post = 12.0 }

[[adjuster]]
name = "post"
moves = "saddle"
angle = 107.0
unit = 10.0
range = [0.0, 30.0]
step = 0.5
sigma = 0.5
marked = false
[[adjuster]]
name = "bar slide"
moves = "bar"
angle = 0.0
unit = 1.0
range = [0.0, 100.0]

[[calibration]]
name = "low"
marks = { post = 0.0 }
[[calibration.reading]]
kind = "plumb"
from = "bb"
to = "saddle.mid"
value = 600.0
`

const wholeBar = `
schema = 1
kind = "bar"
id = "own-bar"
name = "own bar"
reach = 74.0
drop = 126.0
bend = 30.0
width = 420.0
flare = 2.0
clamp = 31.8
drops = [44.0, -126.0]
`

const wholeHood = `
schema = 1
kind = "bar"
id = "own-horn"
name = "own horn"
hood = [110.0, 8.0]
hood_angle = 2.0
width = 400.0
clamp = 31.8
`

const wholeSaddle = `
schema = 1
kind = "saddle"
id = "own-saddle"
name = "own saddle"
length = 280.0
width = [[0.0, 38.0], [100.0, 56.0], [200.0, 124.0], [280.0, 68.0]]
top = [[0.0, -5.0], [50.0, 0.0], [255.0, 0.0], [280.0, -3.5]]
sag = 7.0
rail = { height = 45.0, from = 110.0, to = 180.0 }
`

const wholeUnshaped = `
schema = 1
feet = { crank = 170.0 }
saddle = { sag = 8.0 }
bar = { clamp_width = 44.0 }
posture = { road = { hands = "hood" } }
[[adjuster]]
name = "post"
moves = "saddle"
angle = 107.0
unit = 1.0
[[reading]]
kind = "saddle-height"
at = "sit"
value = 720.0
`

const wholeStand = `
schema = 1
feet = { crank = 170.0, sole_height = 24.0 }
saddle = { part = "short-250" }
anchor = { saddle_clamp = [-150.0, 520.0], bar_clamp = [400.0, 500.0], sigma = 0.5 }
[[adjuster]]
name = "tilt dial"
moves = "saddle-tilt"
unit = 0.5
range = [-8.0, 8.0]
`
