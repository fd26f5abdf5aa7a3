"""What is handed over: the fit sheet for the installer, the report for the client, the words of a check."""
