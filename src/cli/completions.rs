//! `beamyield completions`: a script for a shell's completion.

use crate::cli::outputs::write;
use crate::cli::{Arguments, Execute};
use crate::error::Result;
use crate::io::Output;
use clap::{Args, CommandFactory};
use clap_complete::{Shell, generate};

/// Print a script that completes commands, options and files
#[derive(Debug, Args)]
#[command(next_line_help = true, after_help = NOTES)]
pub(super) struct CompletionsCommand {
    /// The shell
    shell: Shell,
}

const NOTES: &str = "\
For this session of bash:  source <(beamyield completions bash)
For all later sessions write it to the shell's own folder, such as
~/.local/share/bash-completion/completions/beamyield for bash,
~/.config/fish/completions/beamyield.fish for fish, _beamyield in a folder of
$fpath for zsh, or into $PROFILE for PowerShell.";

impl Execute for CompletionsCommand {
    fn run(&self) -> Result<()> {
        let mut script = Vec::new();
        generate(self.shell, &mut Arguments::command(), "beamyield", &mut script);
        write(Output::stdout(), &String::from_utf8_lossy(&script))
    }
}
