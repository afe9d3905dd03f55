"""What is kept between builds: ink and other results under a hash of their inputs, and a stamp of each site.

It knows nothing of what it keeps.
"""
