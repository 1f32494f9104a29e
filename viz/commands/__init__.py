"""The commands, one file for each: what it is called with, what it prints, nothing else."""
