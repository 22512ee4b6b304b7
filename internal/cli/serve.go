package cli

import (
	"context"
	"fmt"
	"net"
	"os/signal"
	"syscall"
	"time"

	"github.com/skip2/go-qrcode"
	"github.com/spf13/cobra"

	"carryover/internal/page"
	"carryover/internal/pageserve"
)

func (a *app) serveCommand() *cobra.Command {
	var listen string
	cmd := &cobra.Command{
		Use:   "serve [DIR]",
		Short: "Show the bikes of a folder as pages for a browser",
		Long: `Shows the bikes of DIR (the current folder when it is left out; the examples when it has none) as pages: new bikes
by questions, a carry step by step with what the tape says, what a felt change means on the other bike, two saddles over one another.
It prints the address to open, which holds a key; without it nobody gets in. Only this machine can reach it unless --listen names an
address of its network; then a QR code is printed for the phone. Ctrl-C stops it.`,
		Example: `  carryover serve
  carryover serve bikes --listen 0.0.0.0:0`,
		Args: atMost(1),
		RunE: func(cmd *cobra.Command, args []string) error {
			return a.serve(cmd.Context(), append(args, ".")[0], listen)
		},
	}
	cmd.Flags().StringVar(&listen, "listen", "127.0.0.1:0", "listen at `ADDRESS:PORT`; port 0 is any that is free")
	return cmd
}

func (a *app) serve(ctx context.Context, dir, listen string) error {
	ctx, stop := signal.NotifyContext(ctx, syscall.SIGTERM)
	defer stop()
	folder, err := pageserve.OpenFolder(dir)
	if err != nil {
		return fmt.Errorf("cannot show %s: %w", dir, plainPathError(err))
	}
	defer folder.Close()
	p, err := page.New("", time.Now)
	if err != nil {
		return err
	}
	l, err := net.Listen("tcp", listen)
	if err != nil {
		return usagef("--listen %s: %w", listen, err)
	}
	s := pageserve.New(p, folder, l.Addr())
	at := s.Addresses()
	if _, err := fmt.Fprintf(a.Out, "%s\n", at[0]); err != nil {
		return err
	}
	if !pageserve.Loopback(l.Addr()) {
		code, err := qrcode.New(at[0], qrcode.Low)
		if err != nil {
			return err
		}
		fmt.Fprint(a.Err, code.ToSmallString(true))
		fmt.Fprintln(a.Err, "Whoever has this address can read and change the bikes in the folder; the network is not encrypted.")
	}
	fmt.Fprintln(a.Err, "Open this address in a browser. Ctrl-C stops.")
	return s.Serve(ctx, l)
}
