package main

import (
	"os"
	"path/filepath"
	"strings"
	"testing"

	"github.com/spf13/cobra"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"carryover/internal/cli"
)

func TestEveryCommandHasAPage(t *testing.T) {
	t.Setenv("SOURCE_DATE_EPOCH", "1700000000")
	dir := filepath.Join(t.TempDir(), "man1")
	require.NoError(t, write(dir))
	pages := 0
	var visit func(c *cobra.Command)
	visit = func(c *cobra.Command) {
		if !c.IsAvailableCommand() && c.HasParent() || c.Name() == "help" {
			return
		}
		name := strings.ReplaceAll(c.CommandPath(), " ", "-")
		page, err := os.ReadFile(filepath.Join(dir, name+".1"))
		if assert.NoError(t, err) {
			pages++
			assert.Contains(t, string(page), ".SH EXAMPLE", name)
			assert.Contains(t, string(page), "Nov 2023", name)
			escaped := strings.ReplaceAll(name, "-", `\-`)
			assert.True(t, strings.Contains(string(page), name) || strings.Contains(string(page), escaped), name)
		}
		for _, child := range c.Commands() {
			visit(child)
		}
	}
	visit(cli.Command())
	assert.Greater(t, pages, 10)
	root, err := os.ReadFile(filepath.Join(dir, "carryover.1"))
	require.NoError(t, err)
	assert.Contains(t, string(root), "Exit codes", "the page of the command says what its exit code means")
}
