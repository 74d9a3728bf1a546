from estimator.cli import main

main()
