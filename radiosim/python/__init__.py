"""The interface of Python: commands as functions, results as objects; `import radiosim` has it."""
