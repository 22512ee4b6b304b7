package questions

// rider asks for a rider: what carries them on a saddle first, lengths of the body after it.
func (in *interview) rider(top *table) {
	in.ask(top, "name", question{text: "What shall the rider be called", form: text})
	for _, q := range []struct{ key, text, how string }{
		{"sit_bones", "Sit-bone spacing, mm", "sit on corrugated cardboard on a hard stool, back rounded as on the bike; between the middles of the two dents"},
		{"margin", "How much wider than that the saddle should be, both sides together, mm", "left out it is 20 mm, common practice"},
		{"height", "Height without shoes, mm", "heels to a wall, a book level on the head"},
		{"inseam", "Inseam, mm", "a level between the legs, pressed up as hard as a saddle would; floor to its upper edge"},
	} {
		in.ask(top, q.key, question{text: q.text, how: q.how, form: number})
	}
	if in.ended || in.choose("Lengths of the body as well", "only the body view needs them; a second person holds the tape", "no", "yes") != "yes" {
		return
	}
	for _, q := range []struct{ key, text, how string }{
		{"thigh", "Thigh, mm", "hip joint (the bony point at the side) to the middle of the knee joint"},
		{"shank", "Lower leg, mm", "middle of the knee joint to the ankle bone"},
		{"foot_length", "Foot, mm", "heel to the longest toe"},
		{"ankle_height", "Ankle above the sole, mm", "floor to the ankle bone, barefoot"},
		{"ball_to_ankle", "Ball of the foot to ankle, mm", "along the sole, from the pedal axle's place to below the ankle bone"},
		{"trunk", "Trunk, mm", "hip joint to the shoulder joint, sitting upright"},
		{"upper_arm", "Upper arm, mm", "shoulder joint to elbow"},
		{"forearm", "Forearm, mm", "elbow to wrist"},
		{"shoulder_width", "Between the shoulder joints, mm", "from behind, arms hanging"},
		{"hip_above_saddle", "Hip joint above the saddle, mm", "on the bike, from the loaded saddle up to the hip joint"},
	} {
		in.ask(top, q.key, question{text: q.text, how: q.how, form: number})
	}
}
