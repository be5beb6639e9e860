"""What the technician measures, judged against specification and against peers."""
