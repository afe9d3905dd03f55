"""Ways out: a score as MIDI to hear elsewhere and as MusicXML to open in another notation program."""
