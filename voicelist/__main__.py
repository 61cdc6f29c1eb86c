"""`python -m voicelist`."""

from voicelist.cli import main

if __name__ == "__main__":
    main()
