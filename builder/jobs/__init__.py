"""Processes that the program starts, its working folders, the signals that end it, and its progress.

It knows nothing of music and nothing of what a process does.
"""
