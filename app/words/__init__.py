"""What people read: names of fields, findings and states, on the screens and on paper alike."""
