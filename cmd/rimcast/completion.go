package main

import (
	"fmt"
	"strings"

	"github.com/spf13/cobra"
)

const completionLong = `Completion prints a script that lets the shell complete the commands, flags and
words of rimcast with the tab key.

  bash        rimcast completion bash > /etc/bash_completion.d/rimcast
  zsh         rimcast completion zsh > "${fpath[1]}/_rimcast"
  fish        rimcast completion fish > ~/.config/fish/completions/rimcast.fish
  powershell  rimcast completion powershell >> $PROFILE`

// shells are those that completion knows.
var shells = []string{"bash", "zsh", "fish", "powershell"}

// newCompletion makes the command that prints completion scripts.
func newCompletion(a *app) *cobra.Command {
	return &cobra.Command{
		Use:       "completion SHELL",
		Short:     "print a completion script for a shell",
		Long:      completionLong + exitStatus(),
		Example:   example("rimcast completion bash | sudo tee /etc/bash_completion.d/rimcast"),
		Args:      argCount(1, 1, "the name of a shell: bash, zsh, fish or powershell"),
		ValidArgs: shells,
		RunE: func(cmd *cobra.Command, args []string) error {
			script, err := completionScript(cmd.Root(), args[0])
			if err != nil {
				return err
			}
			if a.json {
				return printJSON(a.stdout, map[string]string{"shell": args[0], "script": script})
			}
			_, err = fmt.Fprint(a.stdout, script)
			return outputFault(err)
		},
	}
}

func completionScript(root *cobra.Command, shell string) (string, error) {
	var b strings.Builder
	var err error
	switch shell {
	case "bash":
		err = root.GenBashCompletionV2(&b, true)
	case "zsh":
		err = root.GenZshCompletion(&b)
	case "fish":
		err = root.GenFishCompletion(&b, true)
	case "powershell":
		err = root.GenPowerShellCompletionWithDesc(&b)
	default:
		return "", usage("there is no completion for "+printable(shell), didYouMean(shell, shells))
	}
	return b.String(), err
}
