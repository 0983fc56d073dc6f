"""The condition record and its one-file archive; links from artwork space to inks."""
