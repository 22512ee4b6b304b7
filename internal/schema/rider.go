package schema

// riderFile is the schema of a rider file.
func riderFile() node {
	return document("a rider", table("", record(node{
		"schema":           version(),
		"name":             text("what the rider is called"),
		"sit_bones":        number("spacing of the sit bones, mm", 50, 200),
		"margin":           number("what the saddle wants to be wider than that, both sides together, mm", 0, 80),
		"height":           number("without shoes, mm", 1000, 2500),
		"inseam":           number("floor to a level pressed up as hard as a saddle would, mm", 400, 1300),
		"thigh":            number("hip joint to knee joint, mm", 200, 700),
		"shank":            number("knee joint to ankle joint, mm", 200, 700),
		"foot_length":      number("heel to longest toe, mm", 150, 400),
		"ankle_height":     number("ankle joint above the sole, mm", 30, 200),
		"ball_to_ankle":    number("pedal axle to ankle along the sole, mm", 50, 300),
		"trunk":            number("hip joint to shoulder joint, mm", 250, 900),
		"upper_arm":        number("shoulder joint to elbow, mm", 150, 500),
		"forearm":          number("elbow to wrist, mm", 150, 600),
		"shoulder_width":   number("between the two shoulder joints, mm", 200, 700),
		"hip_above_saddle": number("hip joint above the loaded saddle, mm", 0, 250),
	}), "schema"))
}
