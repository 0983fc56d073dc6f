"""HTML, plots and drawings: how anything is shown."""
