"""From engraved pieces to the site and the pages for the stand."""
