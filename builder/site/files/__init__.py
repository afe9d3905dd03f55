"""What a site holds besides its pages: feeds, lists, cards, and what makes it an app."""
