"""The command line: parse, one workbench call, render."""
