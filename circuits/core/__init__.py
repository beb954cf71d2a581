"""The electrical reasoning: values in, values out, with numpy and scipy and nothing else."""
