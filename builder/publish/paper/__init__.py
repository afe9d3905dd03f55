"""Pages for a stand: engraved pieces and engraved words, laid out, numbered and bound as one PDF."""
