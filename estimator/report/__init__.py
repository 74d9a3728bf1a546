"""Tables, figures and printable pages."""
