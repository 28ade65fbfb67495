"""The commands, a module a family; `trainer.cli` puts them together."""
