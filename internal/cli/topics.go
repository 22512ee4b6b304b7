package cli

import (
	"fmt"
	"strings"

	"github.com/spf13/cobra"

	"carryover/internal/format"
	"carryover/internal/words"
)

// topics are the help pages that belong to no command.
func topics() []*cobra.Command {
	return []*cobra.Command{
		{Use: "files", Short: "What bike, part and rider files hold", Long: filesTopic},
		{Use: "readings", Short: "The readings, the points a tape goes to, and how to take each", Long: readingsTopic()},
		{Use: "units", Short: "Units, signs and words", Long: unitsTopic},
		{Use: "exit-codes", Short: "What the exit code says", Long: exitTopic},
	}
}

// helpCommand is cobra's, but a topic that is not there is wrong usage.
func helpCommand() *cobra.Command {
	return &cobra.Command{
		Use:     "help [COMMAND]",
		Short:   "Help about any command or topic",
		Example: "  carryover help carry\n  carryover help files",
		ValidArgsFunction: func(cmd *cobra.Command, args []string, _ string) ([]string, cobra.ShellCompDirective) {
			at, _, err := cmd.Root().Find(args)
			if err != nil {
				return nil, cobra.ShellCompDirectiveNoFileComp
			}
			var names []string
			for _, c := range at.Commands() {
				if c.IsAvailableCommand() || c.IsAdditionalHelpTopicCommand() {
					names = append(names, c.Name()+"\t"+c.Short)
				}
			}
			return names, cobra.ShellCompDirectiveNoFileComp
		},
		RunE: func(cmd *cobra.Command, args []string) error {
			at, rest, err := cmd.Root().Find(args)
			if err != nil || len(rest) > 0 {
				return usagef("there is no help on %q", strings.Join(args, " "))
			}
			at.InitDefaultHelpFlag()
			return at.Help()
		},
	}
}

// readingsTopic lists the readings in the words of the interview and the sheet.
func readingsTopic() string {
	var b strings.Builder
	b.WriteString("Readings go to surfaces with nobody on them, the bike upright and level. In millimetres and degrees.\n\n")
	for _, kind := range format.Shorthands {
		k := format.Reading(kind)
		fmt.Fprintf(&b, "  %-14s  %s %s\n", kind, words.Sentence(k.About), words.Sentence(k.How))
	}
	b.WriteString("\nAny other distance is written with its two points, from and to:\n\n")
	b.WriteString(`  line            straight from one point to the other
  level           how far the second point is ahead of the first
  plumb           how far the second point is above the first
  angle           of saddle, bar, hood or pad, against the level
  seat-tube       from the BB along the seat tube to the top of the saddle

The points:

  floor           what the bike stands on
  bb              middle of the bottom bracket's axle
  saddle.nose     foremost point of the saddle; saddle.tail its rearmost
  saddle.mid      halfway between them; saddle.widest where it is widest
  saddle.sit      where the rider sits: as wide as the support, or a mark put there
  saddle.width:W  most forward place that is W mm wide
  saddle.at:S     S mm behind the nose
  bar             middle of the bar where it is clamped
  hood            hollow of the hood where the web of the hand sits
  drop            deepest place of the drops
  pad             middle of the pad; pad.rear and pad.front its ends
  grip            end of the extension where the hand holds it`)
	return b.String()
}

const filesTopic = `Every file is TOML, begins with schema = 1 and is read strictly: a key that is not known is an error.
carryover schema KIND prints what an editor needs to check one while you write.

  bike   [feet] and [saddle] at least. A bike to carry from has a [posture.NAME]
         and [[reading]]s; one to carry to has [anchor], [[adjuster]]s and
         [marks], or a [stem]. Once set up it has its [marks] and [[reading]]s
         for confirm (example:studio-set); one whose scales are not known has
         [[calibration]] entries for calibrate (example:studio-calibrate).
  part   kind = "saddle", "bar", "lever", "stem" or "clipon", an id, a name and
         its shape. A bike names it by id when it lies in the folder given with
         --catalog, or as "file:PATH".
  rider  sit_bones, and lengths of the body for the body view.

carryover example write DIR gives you files to start from, carryover new bike FILE asks for what it
needs, and example:NAME stands for a file that is compiled in.`

const unitsTopic = `Lengths are millimetres, angles degrees. Seen from the drive side x runs forward and y up from the
bottom bracket (BB); a positive angle turns the front upward. Widths are full widths, side to side.

  setback          how far the saddle's nose is behind the BB
  saddle height    straight from the BB to the middle of the saddle
  vertical height  upright from the BB to the same; the one is not the other
  reach            level distance from the saddle's nose forward to the hands
  drop             how far the hands are below the middle of the saddle
  mark             what an adjuster's scale reads; mark times unit is mm or degrees
  station          mm behind the saddle's nose, along a straightedge laid lengthwise on it
  ±, sigma         how sure a number is: two times in three the truth is nearer than that`

const exitTopic = `  0  done; of carry: every contact is carried
  1  bad input or failure; the message says where in which file
  2  wrong usage of the command line
  3  solved, but a contact is not carried: the result says by how much and what holds it back

The result goes to standard output, everything else to standard error.`
