"""The position graph, values backed up, confluences, flow; what practice says."""
