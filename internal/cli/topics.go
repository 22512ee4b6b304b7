package cli

import (
	"fmt"
	"strings"

	"github.com/spf13/cobra"
)

// topics are the help pages that belong to no command.
func topics() []*cobra.Command {
	return []*cobra.Command{
		{Use: "files", Short: "What bike, part and rider files hold", Long: filesTopic},
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
				return usageError{fmt.Errorf("there is no help on %q", strings.Join(args, " "))}
			}
			at.InitDefaultHelpFlag()
			return at.Help()
		},
	}
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
  sigma            standard uncertainty: about two readings in three lie within it`

const exitTopic = `  0  done; of carry: every contact is carried
  1  bad input or failure; the message says where in which file
  2  wrong usage of the command line
  3  solved, but a contact is not carried: the result says by how much and what holds it back

The result goes to standard output, everything else to standard error.`
