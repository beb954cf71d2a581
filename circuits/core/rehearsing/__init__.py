"""An order played on its networks, and every single slip of it."""
