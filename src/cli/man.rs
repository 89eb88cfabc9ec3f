//! `beamyield man`: the manual pages.

use crate::cli::outputs::write;
use crate::cli::{Arguments, Execute};
use crate::error::{Error, Result};
use crate::io::file::refuse_same;
use crate::io::{Destination, Output};
use clap::{Args, Command, CommandFactory};
use clap_mangen::Man;
use std::path::PathBuf;

/// Print the manual page, or write one for each command to a folder
#[derive(Debug, Args)]
#[command(next_line_help = true, after_help = NOTES)]
pub(super) struct ManCommand {
    /// An existing folder, such as ~/.local/share/man/man1
    folder: Option<PathBuf>,
}

const NOTES: &str = "\
Read the page of a command with `man beamyield-run`, once its folder is among
those that `manpath` prints.";

impl Execute for ManCommand {
    fn run(&self) -> Result<()> {
        let mut all = Arguments::command();
        // From here on the commands know that they belong to the program.
        all.build();
        let Some(folder) = &self.folder else { return write(Output::stdout(), &page(&all)?) };
        // Open every file before writing one, so that a folder that takes none stays as it was.
        let commands: Vec<&Command> = std::iter::once(&all).chain(all.get_subcommands()).collect();
        let at = |command: &&Command| Destination::at(&folder.join(man(command).get_filename()));
        let places = commands.iter().map(at).collect::<Result<Vec<Destination>>>()?;
        let named: Vec<(&str, &Destination)> = commands.iter().map(|of| of.get_name()).zip(&places).collect();
        refuse_same(&named)?;
        let outputs = places.into_iter().map(Destination::open).collect::<Result<Vec<Output>>>()?;
        let written = commands.iter().zip(outputs).map(|(command, output)| write(output, &page(command)?));
        Error::of_all(written)
    }
}

/// The examples at the head of a command's help move to the end of its page.
fn man(command: &Command) -> Man {
    let parts = [command.get_after_help(), command.get_before_help()];
    let parts: Vec<String> = parts.into_iter().flatten().map(|part| part.to_string()).collect();
    Man::new(match parts.as_slice() {
        [] => command.clone(),
        parts => command.clone().after_help(parts.join("\n\n")),
    })
}

fn page(command: &Command) -> Result<String> {
    let mut page = Vec::new();
    let written = man(command).render(&mut page);
    written.map_err(|source| Error::File { path: "the manual page".into(), doing: "write", source })?;
    Ok(String::from_utf8_lossy(&page).into_owned())
}
