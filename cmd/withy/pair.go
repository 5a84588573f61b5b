package main

import (
	"bytes"
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"net/http"
	"os"
	"syscall"
	"text/tabwriter"

	"github.com/spf13/cobra"

	"withy/cmd/withy/internal/door"
	"withy/cmd/withy/internal/hail"
	"withy/cmd/withy/internal/web"
)

func newPair() *cobra.Command {
	var data, program string
	var made hail.Secret
	var view bool
	cmd := &cobra.Command{
		Use:   "pair",
		Short: "Let a phone or a program in to the page; list and revoke",
		Long: "Shows a code that lets one phone in, once, within two minutes: open the page on the phone and type\n" +
			"it there. With --token it makes a token for a program, which shows it as a bearer token; with\n" +
			"--token-file as well it takes the one that another box has made, so that a program has the same\n" +
			"at each. On the board itself nothing has to be paired. The daemon must be running.",
		Example: "  withy pair\n  withy pair --token prometheus --view\n  withy pair list\n  withy pair revoke k3f7",
		Args:    cobra.NoArgs,
		RunE: func(cmd *cobra.Command, _ []string) error {
			role := door.Crew
			if view {
				role = door.View
			}
			return grant(cmd, data, web.Grant{Role: role, Name: program}, made)
		},
	}
	cmd.PersistentFlags().StringVar(&data, "data", defaults().Data, "folder of the daemon's record")
	cmd.Flags().BoolVar(&view, "view", false, "let it look only, and not tell or set")
	cmd.Flags().StringVar(&program, "token", "", "make a token for a program of this name, instead of a code")
	cmd.Flags().StringVar(&made.File, "token-file", "", "a file of mode 0600 with the token that another box has made for it")
	cmd.AddCommand(newPairList(&data), &cobra.Command{
		Use: "revoke ID", Short: "Send a phone or a program away, at once", Args: cobra.ExactArgs(1),
		RunE: func(cmd *cobra.Command, args []string) error {
			return askDaemon(cmd.Context(), data, http.MethodPost, "/api/unpair", web.Unpair{Device: args[0]}, nil)
		},
	})
	return cmd
}

// grant prints a code or a token.
func grant(cmd *cobra.Command, data string, g web.Grant, made hail.Secret) (err error) {
	if made.Given() {
		if g.Name == "" {
			return errors.New("--token-file: goes with --token NAME")
		}
		if g.Token, err = made.Read(); err != nil {
			return fmt.Errorf("--token-file: %w", err)
		}
	}
	var got web.Granted
	if err := askDaemon(cmd.Context(), data, http.MethodPost, "/api/grant", g, &got); err != nil {
		return err
	}
	out := cmd.OutOrStdout()
	if g.Token != "" {
		fmt.Fprintf(out, "%s is let in by the token in %s, and may %s.\n", g.Name, made.File, may[g.Role])
		return nil
	}
	if got.Token != "" {
		fmt.Fprintln(out, got.Token)
		fmt.Fprintf(cmd.ErrOrStderr(), "It is shown this once. %s sends it as the header Authorization: Bearer TOKEN, and may %s.\n", g.Name, may[g.Role])
		return nil
	}
	fmt.Fprintf(out, "%s %s\n", got.Code[:3], got.Code[3:])
	fmt.Fprintf(out, "Open the page on the phone and type it there within %g minutes. It is good once, and the phone may %s.\n", got.ForS/60, may[g.Role])
	if got.Fingerprint != "" {
		fmt.Fprintf(out, "If the phone warns of the certificate, it should be the one with this SHA-256:\n%s\n", got.Fingerprint)
	}
	return nil
}

var may = map[door.Role]string{door.View: "look", door.Crew: "look, tell and set"}

func newPairList(data *string) *cobra.Command {
	var asJSON bool
	cmd := &cobra.Command{
		Use: "list", Short: "Who was let in", Args: cobra.NoArgs,
		RunE: func(cmd *cobra.Command, _ []string) error {
			var all web.Devices
			if err := askDaemon(cmd.Context(), *data, http.MethodGet, "/api/devices", nil, &all); err != nil {
				return err
			}
			if asJSON {
				return printJSON(cmd.OutOrStdout(), all.Devices)
			}
			w := tabwriter.NewWriter(cmd.OutOrStdout(), 0, 0, 2, ' ', 0)
			fmt.Fprintln(w, "id\tname\trole\tsince")
			for _, d := range all.Devices {
				fmt.Fprintf(w, "%s\t%s\t%s\t%s\n", d.ID, d.Name, d.Role, d.Made)
			}
			return w.Flush()
		},
	}
	cmd.Flags().BoolVar(&asJSON, "json", false, "print one JSON document")
	return cmd
}

// askDaemon asks the daemon of a data folder by its socket, and reads the answer into to
// unless that is nil.
func askDaemon(ctx context.Context, data, method, path string, ask, to any) error {
	body, err := json.Marshal(ask)
	if err != nil {
		return err
	}
	r, err := http.NewRequestWithContext(ctx, method, "http://box"+path, bytes.NewReader(body))
	if err != nil {
		return err
	}
	r.Header.Set("Content-Type", "application/json")
	answer, err := door.Client(data).Do(r)
	switch {
	case errors.Is(err, os.ErrPermission):
		return fmt.Errorf("--data %s: only its owner may do that; try sudo", data)
	case errors.Is(err, os.ErrNotExist), errors.Is(err, syscall.ECONNREFUSED):
		return fmt.Errorf("--data %s: no daemon runs there; start it, or name its folder", data)
	case err != nil:
		return fmt.Errorf("--data %s: %w", data, err)
	}
	defer answer.Body.Close()
	if answer.StatusCode != http.StatusOK {
		var p web.Problem
		if err := json.NewDecoder(answer.Body).Decode(&p); err != nil || p.Error == "" {
			return fmt.Errorf("the daemon answers %s", answer.Status)
		}
		return errors.New(p.Error)
	}
	if to == nil {
		return nil
	}
	return json.NewDecoder(answer.Body).Decode(to)
}
