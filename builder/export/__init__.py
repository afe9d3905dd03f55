"""Files for other programs: a score as MIDI to hear and as MusicXML to open in a notation program.

It knows nothing of the site.
"""
