package main

import (
	"fmt"
	"io"
	"os"
	"path/filepath"
	"strings"

	"github.com/spf13/cobra"
	"github.com/spf13/pflag"
)

const manLong = `Man prints the manual page of rimcast, or of one of its commands, made from the
same text as the help. With --dir it writes the pages of all commands.`

// newMan makes the command that prints or writes the manual pages.
func newMan(a *app) *cobra.Command {
	dir := ""
	cmd := &cobra.Command{
		Use:     "man [COMMAND]",
		Short:   "print or write manual pages",
		Long:    manLong + exitStatus(exitOutput),
		Example: example("rimcast man screen | man -l -", "rimcast man --dir /usr/local/share/man/man1"),
		Args:    argCount(0, 1, "the name of one command"),
		RunE: func(cmd *cobra.Command, args []string) error {
			if dir != "" {
				return a.writeManPages(cmd.Root(), dir)
			}
			page, err := findPage(cmd.Root(), args)
			if err != nil {
				return err
			}
			if a.json {
				var b strings.Builder
				manPage(&b, page)
				return printJSON(a.stdout, map[string]string{"name": pageName(page), "page": b.String()})
			}
			manPage(a.stdout, page)
			return nil
		},
	}
	cmd.Flags().StringVar(&dir, "dir", "", "write the pages of all commands into this directory")
	return cmd
}

func findPage(root *cobra.Command, args []string) (*cobra.Command, error) {
	if len(args) == 0 {
		return root, nil
	}
	for _, c := range pages(root)[1:] {
		if c.Name() == args[0] {
			return c, nil
		}
	}
	return nil, noSuchCommand(root, args[0])
}

// pages lists the commands that have a page, the program itself first.
func pages(root *cobra.Command) []*cobra.Command {
	list := []*cobra.Command{root}
	for _, c := range root.Commands() {
		if c.IsAvailableCommand() && c.Name() != "help" {
			list = append(list, c)
		}
	}
	return list
}

func pageName(c *cobra.Command) string { return strings.ReplaceAll(c.CommandPath(), " ", "-") }

func (a *app) writeManPages(root *cobra.Command, dir string) error {
	if err := os.MkdirAll(dir, 0o777); err != nil {
		return outputFault(err)
	}
	var files []string
	for _, c := range pages(root) {
		var b strings.Builder
		manPage(&b, c)
		path := filepath.Join(dir, pageName(c)+".1")
		if err := os.WriteFile(path, []byte(b.String()), 0o666); err != nil {
			return outputFault(err)
		}
		files = append(files, path)
	}
	if a.json {
		return printJSON(a.stdout, map[string][]string{"files": files})
	}
	for _, f := range files {
		fmt.Fprintln(a.stdout, f)
	}
	return nil
}

// manPage writes one page in the man macros of roff. It has no date: the same
// program gives the same page.
func manPage(w io.Writer, c *cobra.Command) {
	fmt.Fprintf(w, ".TH %s 1 \"\" \"rimcast %s\" \"Rimcast manual\"\n", strings.ToUpper(pageName(c)), roff(readVersion().Version))
	fmt.Fprintf(w, ".SH NAME\n%s \\- %s\n", roff(pageName(c)), roff(c.Short))
	fmt.Fprintf(w, ".SH SYNOPSIS\n.B %s\n", roff(c.UseLine()))
	text, status, _ := strings.Cut(c.Long, "\n\nEXIT STATUS\n")
	manText(w, "DESCRIPTION", text)
	manCommands(w, c)
	manFlags(w, "OPTIONS", c.NonInheritedFlags())
	manFlags(w, "COMMON OPTIONS", c.InheritedFlags())
	if status != "" {
		fmt.Fprintf(w, ".SH EXIT STATUS\n.nf\n%s\n.fi\n", roff(status))
	}
	if c.Example != "" {
		fmt.Fprintf(w, ".SH EXAMPLES\n.nf\n%s\n.fi\n", roff(c.Example))
	}
}

// manText writes paragraphs; indented lines keep their breaks.
func manText(w io.Writer, title, text string) {
	fmt.Fprintf(w, ".SH %s\n", title)
	for paragraph := range strings.SplitSeq(text, "\n\n") {
		if strings.HasPrefix(paragraph, " ") {
			fmt.Fprintf(w, ".PP\n.nf\n%s\n.fi\n", roff(paragraph))
		} else {
			fmt.Fprintf(w, ".PP\n%s\n", roff(paragraph))
		}
	}
}

func manCommands(w io.Writer, c *cobra.Command) {
	if !c.HasAvailableSubCommands() {
		return
	}
	fmt.Fprint(w, ".SH COMMANDS\n")
	for _, s := range pages(c)[1:] {
		fmt.Fprintf(w, ".TP\n.B %s\n%s\n", roff(s.Name()), roff(s.Short))
	}
}

func manFlags(w io.Writer, title string, fs *pflag.FlagSet) {
	if !fs.HasAvailableFlags() {
		return
	}
	fmt.Fprintf(w, ".SH %s\n", title)
	fs.VisitAll(func(f *pflag.Flag) {
		name := "--" + f.Name
		if f.Shorthand != "" {
			name = "-" + f.Shorthand + ", " + name
		}
		fmt.Fprintf(w, ".TP\n.B %s\n%s\n", roff(name), roff(f.Usage))
	})
}

// roff escapes text: backslashes, hyphens (which must stay hyphens for copying
// a command), and lines that start like a request.
func roff(s string) string {
	s = strings.NewReplacer(`\`, `\e`, "-", `\-`).Replace(s)
	lines := strings.Split(s, "\n")
	for i, l := range lines {
		if strings.HasPrefix(l, ".") || strings.HasPrefix(l, "'") {
			lines[i] = `\&` + l
		}
	}
	return strings.Join(lines, "\n")
}
