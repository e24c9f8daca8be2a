"""Requirements and due dates."""
