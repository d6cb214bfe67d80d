"""What must hold whatever the scenario, found by hypothesis in random corners."""
