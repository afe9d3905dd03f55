"""The theme: templates and assets of the published book."""
