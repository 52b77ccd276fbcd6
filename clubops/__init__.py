"""The site.

Importing it must load nothing else: `manage.py` reads `clubops.bootstrap` before anything is installed.
"""
