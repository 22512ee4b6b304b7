package cli

import (
	"github.com/spf13/cobra"

	"carryover/internal/format"
)

func (a *app) schemaCommand() *cobra.Command {
	return &cobra.Command{
		Use:   "schema KIND",
		Short: "Print the JSON Schema of a kind of file: bike, part or rider",
		Long: `Prints the JSON Schema (draft 2020-12) of a kind of file, so that an editor can complete and check
it while it is written: many take it from a first line like "#:schema ./bike.schema.json". What takes more than one place to judge,
	such as a mark outside its adjuster's
range, is left to the commands that read the file.`,
		Example: `  carryover schema bike
  carryover schema part > part.schema.json`,
		Args:      exactly(1),
		ValidArgs: format.SchemaNames,
		RunE: func(_ *cobra.Command, args []string) error {
			s, ok := format.Schema(args[0])
			if !ok {
				return oneOf("KIND", args[0], format.SchemaNames)
			}
			return a.print(true, s, nil)
		},
	}
}
