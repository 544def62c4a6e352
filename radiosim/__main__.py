"""`python -m radiosim` is the command `radiosim`."""

from radiosim.cli.main import main

if __name__ == "__main__":
    main()
