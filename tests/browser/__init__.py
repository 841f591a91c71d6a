"""A package, so that Chromium is started once for all of its tests."""
