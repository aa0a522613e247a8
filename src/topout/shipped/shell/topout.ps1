# Completes the words of topout. topout completion powershell | Out-String | Invoke-Expression


# --- Completion data ---
$_shtab_topout_subparsers = @{
    '_shtab_topout' = @('new', 'curve', 'sag', 'geometry', 'plan', 'compare', 'inflate', 'target', 'landing', 'ride', 'rebound', 'ways', 'options', 'check-procedure', 'help', 'completion', 'serve', 'owner-code', 'backup', 'restore', 'verify', 'export', 'import')
}
$_shtab_topout_option_strings = @{
    '_shtab_topout' = @('-h', '--help', '-V', '--version')
    '_shtab_topout_backup' = @('-h', '--help')
    '_shtab_topout_check_procedure' = @('-h', '--help', '--json')
    '_shtab_topout_compare' = @('-h', '--help', '--json', '--csv', '--units', '--strict')
    '_shtab_topout_completion' = @('-h', '--help')
    '_shtab_topout_curve' = @('-h', '--help', '--json', '--csv', '--units', '--plot', '--points', '--end')
    '_shtab_topout_export' = @('-h', '--help')
    '_shtab_topout_geometry' = @('-h', '--help', '--json', '--csv', '--units', '--plot')
    '_shtab_topout_help' = @('-h', '--help')
    '_shtab_topout_import' = @('-h', '--help')
    '_shtab_topout_inflate' = @('-h', '--help', '--json', '--csv', '--units', '--to', '--stop', '--gauge', '--hose')
    '_shtab_topout_landing' = @('-h', '--help', '--json', '--csv', '--units', '--end')
    '_shtab_topout_new' = @('-h', '--help', '--from', '--overwrite')
    '_shtab_topout_options' = @('-h', '--help', '--json', '--csv', '--units', '--limit', '--offset', '--family', '--rear-family', '--end', '--target', '--gauge')
    '_shtab_topout_owner_code' = @('-h', '--help')
    '_shtab_topout_plan' = @('-h', '--help', '--json', '--csv', '--units', '--plot', '--strict')
    '_shtab_topout_rebound' = @('-h', '--help', '--json', '--csv', '--units', '--clicks', '--of', '--end')
    '_shtab_topout_restore' = @('-h', '--help')
    '_shtab_topout_ride' = @('-h', '--help', '--json', '--csv', '--units', '--temperature', '--altitude', '--end')
    '_shtab_topout_sag' = @('-h', '--help', '--json', '--csv', '--units', '--plot')
    '_shtab_topout_serve' = @('-h', '--help')
    '_shtab_topout_target' = @('-h', '--help', '--json', '--csv', '--units', '--sag', '--end-force', '--end-force-change', '--rear-sag', '--head-angle', '--trail', '--bb-height')
    '_shtab_topout_verify' = @('-h', '--help')
    '_shtab_topout_ways' = @('-h', '--help', '--json', '--csv', '--units')
}
$_shtab_topout_compgens = @{
    '_shtab_topout_check_procedure_pos_0' = '_shtab_powershell_compgen_files'
    '_shtab_topout_compare_pos_0' = '_shtab_powershell_compgen_files'
    '_shtab_topout_curve___plot' = '_shtab_powershell_compgen_files'
    '_shtab_topout_curve_pos_0' = '_shtab_powershell_compgen_files'
    '_shtab_topout_geometry___plot' = '_shtab_powershell_compgen_files'
    '_shtab_topout_geometry_pos_0' = '_shtab_powershell_compgen_files'
    '_shtab_topout_inflate_pos_0' = '_shtab_powershell_compgen_files'
    '_shtab_topout_landing_pos_0' = '_shtab_powershell_compgen_files'
    '_shtab_topout_new_pos_0' = '_shtab_powershell_compgen_files'
    '_shtab_topout_options_pos_0' = '_shtab_powershell_compgen_files'
    '_shtab_topout_plan___plot' = '_shtab_powershell_compgen_files'
    '_shtab_topout_plan_pos_0' = '_shtab_powershell_compgen_files'
    '_shtab_topout_rebound_pos_0' = '_shtab_powershell_compgen_files'
    '_shtab_topout_ride_pos_0' = '_shtab_powershell_compgen_files'
    '_shtab_topout_sag___plot' = '_shtab_powershell_compgen_files'
    '_shtab_topout_sag_pos_0' = '_shtab_powershell_compgen_files'
    '_shtab_topout_target_pos_0' = '_shtab_powershell_compgen_files'
    '_shtab_topout_ways_pos_0' = '_shtab_powershell_compgen_files'
}
$_shtab_topout_choices = @{
    '_shtab_topout_compare___units' = @('metric', 'imperial', 'both')
    '_shtab_topout_completion_pos_0' = @('bash', 'zsh', 'fish', 'powershell')
    '_shtab_topout_curve___end' = @('front')
    '_shtab_topout_curve___units' = @('metric', 'imperial', 'both')
    '_shtab_topout_geometry___units' = @('metric', 'imperial', 'both')
    '_shtab_topout_help_pos_0' = @('new', 'curve', 'sag', 'geometry', 'plan', 'compare', 'inflate', 'target', 'landing', 'ride', 'rebound', 'ways', 'options', 'check-procedure', 'help', 'completion', 'serve', 'owner-code', 'backup', 'restore', 'verify', 'export', 'import', 'accessibility', 'architecture', 'backups', 'bench-file', 'command-line', 'documents', 'glossary', 'models', 'planted-faults', 'procedures', 'serving', 'examples')
    '_shtab_topout_inflate___units' = @('metric', 'imperial', 'both')
    '_shtab_topout_landing___end' = @('front')
    '_shtab_topout_landing___units' = @('metric', 'imperial', 'both')
    '_shtab_topout_new___from' = @('air-shock-and-its-shelf', 'another-chassis', 'coil-fork', 'coil-shock-and-its-shelf', 'gas-damper', 'larger-front-wheel', 'load-from-the-sag-found', 'locks-with-five-spacers', 'longer-travel', 'negative-coil', 'over-its-pressure-limit', 'parts-on-the-shelf', 'piston-spacer', 'port-further-in', 'port-with-a-length', 'rear-shock', 'separate-valve', 'smaller-rear-wheel', 'taller-tyres')
    '_shtab_topout_options___end' = @('front')
    '_shtab_topout_options___units' = @('metric', 'imperial', 'both')
    '_shtab_topout_plan___units' = @('metric', 'imperial', 'both')
    '_shtab_topout_pos_0' = @('new', 'curve', 'sag', 'geometry', 'plan', 'compare', 'inflate', 'target', 'landing', 'ride', 'rebound', 'ways', 'options', 'check-procedure', 'help', 'completion', 'serve', 'owner-code', 'backup', 'restore', 'verify', 'export', 'import')
    '_shtab_topout_rebound___end' = @('front')
    '_shtab_topout_rebound___units' = @('metric', 'imperial', 'both')
    '_shtab_topout_ride___end' = @('front')
    '_shtab_topout_ride___units' = @('metric', 'imperial', 'both')
    '_shtab_topout_sag___units' = @('metric', 'imperial', 'both')
    '_shtab_topout_target___units' = @('metric', 'imperial', 'both')
    '_shtab_topout_ways___units' = @('metric', 'imperial', 'both')
}
$_shtab_topout_nargs = @{
    '_shtab_topout__V' = '0'
    '_shtab_topout___help' = '0'
    '_shtab_topout___version' = '0'
    '_shtab_topout__h' = '0'
    '_shtab_topout_backup___help' = '0'
    '_shtab_topout_backup__h' = '0'
    '_shtab_topout_check_procedure___help' = '0'
    '_shtab_topout_check_procedure___json' = '0'
    '_shtab_topout_check_procedure__h' = '0'
    '_shtab_topout_compare___csv' = '0'
    '_shtab_topout_compare___help' = '0'
    '_shtab_topout_compare___json' = '0'
    '_shtab_topout_compare___strict' = '0'
    '_shtab_topout_compare__h' = '0'
    '_shtab_topout_compare_pos_0' = '*'
    '_shtab_topout_completion___help' = '0'
    '_shtab_topout_completion__h' = '0'
    '_shtab_topout_curve___csv' = '0'
    '_shtab_topout_curve___help' = '0'
    '_shtab_topout_curve___json' = '0'
    '_shtab_topout_curve__h' = '0'
    '_shtab_topout_curve_pos_0' = '*'
    '_shtab_topout_export___help' = '0'
    '_shtab_topout_export__h' = '0'
    '_shtab_topout_geometry___csv' = '0'
    '_shtab_topout_geometry___help' = '0'
    '_shtab_topout_geometry___json' = '0'
    '_shtab_topout_geometry__h' = '0'
    '_shtab_topout_geometry_pos_0' = '*'
    '_shtab_topout_help___help' = '0'
    '_shtab_topout_help__h' = '0'
    '_shtab_topout_import___help' = '0'
    '_shtab_topout_import__h' = '0'
    '_shtab_topout_inflate___csv' = '0'
    '_shtab_topout_inflate___help' = '0'
    '_shtab_topout_inflate___json' = '0'
    '_shtab_topout_inflate__h' = '0'
    '_shtab_topout_inflate_pos_0' = '*'
    '_shtab_topout_landing___csv' = '0'
    '_shtab_topout_landing___help' = '0'
    '_shtab_topout_landing___json' = '0'
    '_shtab_topout_landing__h' = '0'
    '_shtab_topout_landing_pos_0' = '*'
    '_shtab_topout_new___help' = '0'
    '_shtab_topout_new___overwrite' = '0'
    '_shtab_topout_new__h' = '0'
    '_shtab_topout_options___csv' = '0'
    '_shtab_topout_options___help' = '0'
    '_shtab_topout_options___json' = '0'
    '_shtab_topout_options__h' = '0'
    '_shtab_topout_options_pos_0' = '*'
    '_shtab_topout_owner_code___help' = '0'
    '_shtab_topout_owner_code__h' = '0'
    '_shtab_topout_plan___csv' = '0'
    '_shtab_topout_plan___help' = '0'
    '_shtab_topout_plan___json' = '0'
    '_shtab_topout_plan___strict' = '0'
    '_shtab_topout_plan__h' = '0'
    '_shtab_topout_plan_pos_0' = '*'
    '_shtab_topout_pos_0' = 'A...'
    '_shtab_topout_rebound___csv' = '0'
    '_shtab_topout_rebound___help' = '0'
    '_shtab_topout_rebound___json' = '0'
    '_shtab_topout_rebound__h' = '0'
    '_shtab_topout_rebound_pos_0' = '*'
    '_shtab_topout_restore___help' = '0'
    '_shtab_topout_restore__h' = '0'
    '_shtab_topout_ride___csv' = '0'
    '_shtab_topout_ride___help' = '0'
    '_shtab_topout_ride___json' = '0'
    '_shtab_topout_ride__h' = '0'
    '_shtab_topout_ride_pos_0' = '*'
    '_shtab_topout_sag___csv' = '0'
    '_shtab_topout_sag___help' = '0'
    '_shtab_topout_sag___json' = '0'
    '_shtab_topout_sag__h' = '0'
    '_shtab_topout_sag_pos_0' = '*'
    '_shtab_topout_serve___help' = '0'
    '_shtab_topout_serve__h' = '0'
    '_shtab_topout_target___csv' = '0'
    '_shtab_topout_target___help' = '0'
    '_shtab_topout_target___json' = '0'
    '_shtab_topout_target__h' = '0'
    '_shtab_topout_target_pos_0' = '*'
    '_shtab_topout_verify___help' = '0'
    '_shtab_topout_verify__h' = '0'
    '_shtab_topout_ways___csv' = '0'
    '_shtab_topout_ways___help' = '0'
    '_shtab_topout_ways___json' = '0'
    '_shtab_topout_ways__h' = '0'
    '_shtab_topout_ways_pos_0' = '*'
}
$_shtab_topout_help = @{
    '_shtab_topout__V' = 'print the version and stop'
    '_shtab_topout___help' = 'show this help message and exit'
    '_shtab_topout___version' = 'print the version and stop'
    '_shtab_topout__h' = 'show this help message and exit'
    '_shtab_topout_backup' = 'Its options follow it: topout backup --help.'
    '_shtab_topout_backup___help' = 'show this help message and exit'
    '_shtab_topout_backup__h' = 'show this help message and exit'
    '_shtab_topout_check_procedure' = 'Says what a procedure of the workshop''s own is, or everything that is wrong with it. Nothing is kept.'
    '_shtab_topout_check_procedure___help' = 'show this help message and exit'
    '_shtab_topout_check_procedure___json' = 'print one JSON object, for programs'
    '_shtab_topout_check_procedure__h' = 'show this help message and exit'
    '_shtab_topout_check_procedure_pos_0' = 'the procedure, TOML; its name is the procedure''s'
    '_shtab_topout_compare' = 'Prints two builds side by side.'
    '_shtab_topout_compare___csv' = 'print one table of comma-separated values, SI'
    '_shtab_topout_compare___help' = 'show this help message and exit'
    '_shtab_topout_compare___json' = 'print one JSON object a line, for programs'
    '_shtab_topout_compare___strict' = 'end with status 1 where anything is warned of'
    '_shtab_topout_compare___units' = 'metric, imperial or both (default: the units that the file is written in)'
    '_shtab_topout_compare__h' = 'show this help message and exit'
    '_shtab_topout_compare_pos_0' = 'two bench files; - is standard input'
    '_shtab_topout_completion' = 'Prints what a shell needs to complete these words.'
    '_shtab_topout_completion___help' = 'show this help message and exit'
    '_shtab_topout_completion__h' = 'show this help message and exit'
    '_shtab_topout_completion_pos_0' = 'one of bash, zsh, fish, powershell'
    '_shtab_topout_curve' = 'Prints the spring''s force along the travel.'
    '_shtab_topout_curve___csv' = 'print one table of comma-separated values, SI'
    '_shtab_topout_curve___end' = 'front or rear (default what the file has, front first)'
    '_shtab_topout_curve___help' = 'show this help message and exit'
    '_shtab_topout_curve___json' = 'print one JSON object a line, for programs'
    '_shtab_topout_curve___plot' = 'draw the force along the travel to a .svg, .png or .pdf file'
    '_shtab_topout_curve___points' = 'points along the travel, both ends in (default 201)'
    '_shtab_topout_curve___units' = 'metric, imperial or both (default: the units that the file is written in)'
    '_shtab_topout_curve__h' = 'show this help message and exit'
    '_shtab_topout_curve_pos_0' = 'a bench file, TOML; several make one table; - is standard input'
    '_shtab_topout_export' = 'Its options follow it: topout export --help.'
    '_shtab_topout_export___help' = 'show this help message and exit'
    '_shtab_topout_export__h' = 'show this help message and exit'
    '_shtab_topout_geometry' = 'Prints how the bike stands, at full extension and at sag.'
    '_shtab_topout_geometry___csv' = 'print one table of comma-separated values, SI'
    '_shtab_topout_geometry___help' = 'show this help message and exit'
    '_shtab_topout_geometry___json' = 'print one JSON object a line, for programs'
    '_shtab_topout_geometry___plot' = 'draw the stance to a .svg, .png or .pdf file'
    '_shtab_topout_geometry___units' = 'metric, imperial or both (default: the units that the file is written in)'
    '_shtab_topout_geometry__h' = 'show this help message and exit'
    '_shtab_topout_geometry_pos_0' = 'a bench file, TOML; several make one table; - is standard input'
    '_shtab_topout_help' = 'Prints a command''s options, or a document that comes with the program.'
    '_shtab_topout_help___help' = 'show this help message and exit'
    '_shtab_topout_help__h' = 'show this help message and exit'
    '_shtab_topout_help_pos_0' = 'a command, a document, or examples'
    '_shtab_topout_import' = 'Its options follow it: topout import --help.'
    '_shtab_topout_import___help' = 'show this help message and exit'
    '_shtab_topout_import__h' = 'show this help message and exit'
    '_shtab_topout_inflate' = 'Prints the readings to expect while filling.'
    '_shtab_topout_inflate___csv' = 'print one table of comma-separated values, SI'
    '_shtab_topout_inflate___gauge' = 'what the gauge can show (default "1 psi")'
    '_shtab_topout_inflate___help' = 'show this help message and exit'
    '_shtab_topout_inflate___hose' = 'volume of the pump''s hose, "3 ml" (default none)'
    '_shtab_topout_inflate___json' = 'print one JSON object a line, for programs'
    '_shtab_topout_inflate___stop' = 'stop on the way; may be repeated'
    '_shtab_topout_inflate___to' = 'fill to, "62 psi" (default: the file''s pressure)'
    '_shtab_topout_inflate___units' = 'metric, imperial or both (default: the units that the file is written in)'
    '_shtab_topout_inflate__h' = 'show this help message and exit'
    '_shtab_topout_inflate_pos_0' = 'a bench file, TOML; several make one table; - is standard input'
    '_shtab_topout_landing' = 'Prints the drop that uses all the travel.'
    '_shtab_topout_landing___csv' = 'print one table of comma-separated values, SI'
    '_shtab_topout_landing___end' = 'front or rear (default what the file has, front first)'
    '_shtab_topout_landing___help' = 'show this help message and exit'
    '_shtab_topout_landing___json' = 'print one JSON object a line, for programs'
    '_shtab_topout_landing___units' = 'metric, imperial or both (default: the units that the file is written in)'
    '_shtab_topout_landing__h' = 'show this help message and exit'
    '_shtab_topout_landing_pos_0' = 'a bench file, TOML; several make one table; - is standard input'
    '_shtab_topout_new' = 'Writes a bench file with every key in it, what it is and what it may be. Nothing counts before its # is taken away.'
    '_shtab_topout_new___from' = 'filled in as an example is: topout help examples'
    '_shtab_topout_new___help' = 'show this help message and exit'
    '_shtab_topout_new___overwrite' = 'write over a file that is there already'
    '_shtab_topout_new__h' = 'show this help message and exit'
    '_shtab_topout_new_pos_0' = 'the file to write (default bench.toml); - prints it'
    '_shtab_topout_options' = 'Prints what to fit and set so that the bike sits and springs as it did, or as --target wants it, with what [change] asks for: travel, spacers, tyres and pressure that it does not name may change, behind stroke, spacers, coil and pressure, by the parts of [[shelf]] too. What breaks a limit is left out; of the rest those stand that no other beats in stance, spring, cost and days.'
    '_shtab_topout_options___csv' = 'print one table of comma-separated values, SI'
    '_shtab_topout_options___end' = 'front, rear or both (default: what [change] or --target names, else the fork where there is one)'
    '_shtab_topout_options___family' = 'the fork''s family: parts of another are left out'
    '_shtab_topout_options___gauge' = 'what the gauge can show (default "1 psi")'
    '_shtab_topout_options___help' = 'show this help message and exit'
    '_shtab_topout_options___json' = 'print one JSON object a line, for programs'
    '_shtab_topout_options___limit' = 'how many to print (default 10)'
    '_shtab_topout_options___offset' = 'an offset to try too, "51 mm"; may be repeated'
    '_shtab_topout_options___rear_family' = 'the shock''s family, likewise'
    '_shtab_topout_options___target' = 'near to this in place of how it is: "sag 20%", "rear sag 30%", "head angle 64 deg", by the names of topout target; may be repeated'
    '_shtab_topout_options___units' = 'metric, imperial or both (default: the units that the file is written in)'
    '_shtab_topout_options__h' = 'show this help message and exit'
    '_shtab_topout_options_pos_0' = 'a bench file, TOML; several make one table; - is standard input'
    '_shtab_topout_owner_code' = 'Its options follow it: topout owner-code --help.'
    '_shtab_topout_owner_code___help' = 'show this help message and exit'
    '_shtab_topout_owner_code__h' = 'show this help message and exit'
    '_shtab_topout_plan' = 'Prints before and after the change, and the pressure to set.'
    '_shtab_topout_plan___csv' = 'print one table of comma-separated values, SI'
    '_shtab_topout_plan___help' = 'show this help message and exit'
    '_shtab_topout_plan___json' = 'print one JSON object a line, for programs'
    '_shtab_topout_plan___plot' = 'draw the stance before and after (the force along the travel where the file has no [frame]) to a .svg, .png or .pdf file'
    '_shtab_topout_plan___strict' = 'end with status 1 where anything is warned of'
    '_shtab_topout_plan___units' = 'metric, imperial or both (default: the units that the file is written in)'
    '_shtab_topout_plan__h' = 'show this help message and exit'
    '_shtab_topout_plan_pos_0' = 'a bench file, TOML; several make one table; - is standard input'
    '_shtab_topout_rebound' = 'Prints where to start with the rebound after a change of the spring.'
    '_shtab_topout_rebound___clicks' = 'rebound clicks from closed, as they were'
    '_shtab_topout_rebound___csv' = 'print one table of comma-separated values, SI'
    '_shtab_topout_rebound___end' = 'front or rear (default what the file has, front first)'
    '_shtab_topout_rebound___help' = 'show this help message and exit'
    '_shtab_topout_rebound___json' = 'print one JSON object a line, for programs'
    '_shtab_topout_rebound___of' = 'rebound clicks in all, from closed to open'
    '_shtab_topout_rebound___units' = 'metric, imperial or both (default: the units that the file is written in)'
    '_shtab_topout_rebound__h' = 'show this help message and exit'
    '_shtab_topout_rebound_pos_0' = 'a bench file, TOML; several make one table; - is standard input'
    '_shtab_topout_restore' = 'Its options follow it: topout restore --help.'
    '_shtab_topout_restore___help' = 'show this help message and exit'
    '_shtab_topout_restore__h' = 'show this help message and exit'
    '_shtab_topout_ride' = 'Prints what becomes of it where it is ridden, colder or higher up, and what to set here.'
    '_shtab_topout_ride___altitude' = 'of where it is ridden, "1500 m" (default for both: the file''s [ride])'
    '_shtab_topout_ride___csv' = 'print one table of comma-separated values, SI'
    '_shtab_topout_ride___end' = 'front or rear (default what the file has, front first)'
    '_shtab_topout_ride___help' = 'show this help message and exit'
    '_shtab_topout_ride___json' = 'print one JSON object a line, for programs'
    '_shtab_topout_ride___temperature' = 'of the air where it is ridden, "0 degC"; a cold one is written --temperature=-5degC'
    '_shtab_topout_ride___units' = 'metric, imperial or both (default: the units that the file is written in)'
    '_shtab_topout_ride__h' = 'show this help message and exit'
    '_shtab_topout_ride_pos_0' = 'a bench file, TOML; several make one table; - is standard input'
    '_shtab_topout_sag' = 'Prints where the bike rests under its rider.'
    '_shtab_topout_sag___csv' = 'print one table of comma-separated values, SI'
    '_shtab_topout_sag___help' = 'show this help message and exit'
    '_shtab_topout_sag___json' = 'print one JSON object a line, for programs'
    '_shtab_topout_sag___plot' = 'draw the stance at sag (the force along the travel where the file has no [frame]) to a .svg, .png or .pdf file'
    '_shtab_topout_sag___units' = 'metric, imperial or both (default: the units that the file is written in)'
    '_shtab_topout_sag__h' = 'show this help message and exit'
    '_shtab_topout_sag_pos_0' = 'a bench file, TOML; several make one table; - is standard input'
    '_shtab_topout_serve' = 'Its options follow it: topout serve --help.'
    '_shtab_topout_serve___help' = 'show this help message and exit'
    '_shtab_topout_serve__h' = 'show this help message and exit'
    '_shtab_topout_target' = 'Prints what to set or fit for a sag, an end force or a stance that is asked for.'
    '_shtab_topout_target___bb_height' = 'the height of the bottom bracket wanted, likewise, "340 mm"'
    '_shtab_topout_target___csv' = 'print one table of comma-separated values, SI'
    '_shtab_topout_target___end_force' = 'the force wanted at the end of the travel, "1800 N"'
    '_shtab_topout_target___end_force_change' = 'the same against the bike as it is; a lesser one is written --end-force-change=-52N'
    '_shtab_topout_target___head_angle' = 'the head angle wanted at full extension, "65 deg": which fork length gives it'
    '_shtab_topout_target___help' = 'show this help message and exit'
    '_shtab_topout_target___json' = 'print one JSON object a line, for programs'
    '_shtab_topout_target___rear_sag' = 'the sag wanted at the shock, a share of its stroke or a length of it: "30%", "16 mm"'
    '_shtab_topout_target___sag' = 'the sag wanted, a share of the travel or a length: "20%", "30 mm"'
    '_shtab_topout_target___trail' = 'the trail wanted, likewise, "115 mm"'
    '_shtab_topout_target___units' = 'metric, imperial or both (default: the units that the file is written in)'
    '_shtab_topout_target__h' = 'show this help message and exit'
    '_shtab_topout_target_pos_0' = 'a bench file, TOML; several make one table; - is standard input'
    '_shtab_topout_verify' = 'Its options follow it: topout verify --help.'
    '_shtab_topout_verify___help' = 'show this help message and exit'
    '_shtab_topout_verify__h' = 'show this help message and exit'
    '_shtab_topout_ways' = 'Prints another travel by shaft, piston spacer or chassis, side by side.'
    '_shtab_topout_ways___csv' = 'print one table of comma-separated values, SI'
    '_shtab_topout_ways___help' = 'show this help message and exit'
    '_shtab_topout_ways___json' = 'print one JSON object a line, for programs'
    '_shtab_topout_ways___units' = 'metric, imperial or both (default: the units that the file is written in)'
    '_shtab_topout_ways__h' = 'show this help message and exit'
    '_shtab_topout_ways_pos_0' = 'a bench file, TOML; several make one table; - is standard input'
}

# --- Helper functions ---

function _shtab_powershell_compgen_files {
  param([string]$WordToComplete)
  $dir = ''
  if ($WordToComplete -match '^(.*[\\/])') { $dir = $Matches[1] }
  Get-ChildItem -Path "$WordToComplete*" -File -ErrorAction SilentlyContinue |
    ForEach-Object { $dir + $_.Name }
  Get-ChildItem -Path "$WordToComplete*" -Directory -ErrorAction SilentlyContinue |
    ForEach-Object { $dir + $_.Name + [System.IO.Path]::DirectorySeparatorChar }
}

function _shtab_powershell_compgen_dirs {
  param([string]$WordToComplete)
  $dir = ''
  if ($WordToComplete -match '^(.*[\\/])') { $dir = $Matches[1] }
  Get-ChildItem -Path "$WordToComplete*" -Directory -ErrorAction SilentlyContinue |
    ForEach-Object { $dir + $_.Name + [System.IO.Path]::DirectorySeparatorChar }
}

function _shtab_powershell_replace_nonword {
  param([string]$Text)
  $Text -replace '[^\w]', '_'
}

# --- Main completer ---

Register-ArgumentCompleter -Native -CommandName topout -ScriptBlock {
  param($wordToComplete, $commandAst, $cursorPosition)

  # Tokenize the command line (skip program name)
  $allTokens = @()
  if ($commandAst.CommandElements.Count -gt 1) {
    $allTokens = @($commandAst.CommandElements[1..($commandAst.CommandElements.Count - 1)] |
      ForEach-Object { $_.ToString() })
  }

  # Determine which tokens are "completed" (before the word being typed)
  # The last token is the one currently being completed if it matches wordToComplete
  $tokens = @()
  if ($allTokens.Count -gt 0) {
    if ($wordToComplete -and $allTokens[-1] -eq $wordToComplete) {
      if ($allTokens.Count -gt 1) {
        $tokens = $allTokens[0..($allTokens.Count - 2)]
      }
    } else {
      $tokens = $allTokens
    }
  }

  # State tracking
  $prefix = '_shtab_topout'
  $completedPositionals = 0
  $currentActionKey = "${prefix}_pos_0"
  $currentActionNargs = 1
  $currentActionArgsConsumed = 0
  $currentActionIsPositional = $true
  $posOnly = $false

  # Helper: look up nargs for a given action key (default 1)
  function Get-ActionNargs($actionKey) {
    $n = $_shtab_topout_nargs[$actionKey]
    if ($n) { return $n } else { return '1' }
  }

  # Helper: look up help text for a given action key (empty if none)
  function Get-ActionHelp($actionKey) {
    return $_shtab_topout_help[$actionKey]
  }

  # Walk completed tokens to determine current parser state
  foreach ($token in $tokens) {
    if ($posOnly -or $token -ne '--') {
      # Check for subparser match
      $currentSubparsers = $_shtab_topout_subparsers[$prefix]
      if ($currentSubparsers -and $currentSubparsers -contains $token) {
        $prefix = $prefix + '_' + (_shtab_powershell_replace_nonword $token)
        $completedPositionals = 0
        $currentActionKey = "${prefix}_pos_0"
        $currentActionNargs = Get-ActionNargs $currentActionKey
        $currentActionArgsConsumed = 0
        $currentActionIsPositional = $true
        continue
      }
      # Check for option string match
      $currentOptions = $_shtab_topout_option_strings[$prefix]
      if ($currentOptions -and $currentOptions -contains $token) {
        $currentActionKey = $prefix + '_' + (_shtab_powershell_replace_nonword $token)
        $currentActionNargs = Get-ActionNargs $currentActionKey
        $currentActionArgsConsumed = 0
        $currentActionIsPositional = $false
        continue
      }
      # Consume argument for current action
      $currentActionArgsConsumed++
      if ($currentActionNargs -ne '*' -and
        $currentActionNargs -ne '+' -and
        $currentActionNargs -ne '?' -and
        $currentActionNargs -notlike '*...*') {
        if ($currentActionArgsConsumed -ge [int]$currentActionNargs) {
          if ($currentActionIsPositional) { $completedPositionals++ }
          $currentActionKey = "${prefix}_pos_${completedPositionals}"
          $currentActionNargs = Get-ActionNargs $currentActionKey
          $currentActionArgsConsumed = 0
          $currentActionIsPositional = $true
        }
      }
    } else {
      $posOnly = $true
    }
  }
  # --- Generate completions ---
  if ($env:SHTAB_DEBUG -eq 'true') {
    Write-Host "shtab: wordToComplete='$wordToComplete' prefix='$prefix' `
    actionKey='$currentActionKey' isPositional='$currentActionIsPositional' posOnly='$posOnly'"
  }

  $completions = @()

  if (-not $posOnly -and $wordToComplete -like '-*') {
    # Complete option strings, tooltipped with each option's own help text
    $opts = $_shtab_topout_option_strings[$prefix]
    if ($opts) {
      foreach ($opt in $opts) {
        if ($opt -like "$wordToComplete*") {
          $optKey = $prefix + '_' + (_shtab_powershell_replace_nonword $opt)
          $completions += , @{Text = $opt; Tooltip = Get-ActionHelp $optKey}
        }
      }
    }
  } else {
    # Complete subparsers (only when current action is positional),
    # tooltipped with each subcommand's own help text
    if ($currentActionIsPositional) {
      $subs = $_shtab_topout_subparsers[$prefix]
      if ($subs) {
        foreach ($sub in $subs) {
          if ($sub -like "$wordToComplete*") {
            $subKey = $prefix + '_' + (_shtab_powershell_replace_nonword $sub)
            $completions += , @{Text = $sub; Tooltip = Get-ActionHelp $subKey}
          }
        }
      }
    }

    $actionHelp = Get-ActionHelp $currentActionKey

    # Complete choices for current action (positional or option)
    $actionChoices = $_shtab_topout_choices[$currentActionKey]
    if ($actionChoices) {
      foreach ($choice in $actionChoices) {
        if ($choice -like "$wordToComplete*") {
          $completions += , @{Text = $choice; Tooltip = $actionHelp}
        }
      }
    }
    # Complete using compgen function for current action
    $actionCompgen = $_shtab_topout_compgens[$currentActionKey]
    if ($actionCompgen) {
      foreach ($item in @(& $actionCompgen $wordToComplete)) {
        $completions += , @{Text = $item; Tooltip = $actionHelp}
      }
    }
  }
  # Deduplicate (by text) and emit CompletionResult objects
  $seen = New-Object System.Collections.Generic.HashSet[string]
  $results = @()
  foreach ($c in $completions) {
    if ($seen.Add($c.Text)) {
      $tooltip = if ($c.Tooltip) { $c.Tooltip } else { $c.Text }
      $results += [System.Management.Automation.CompletionResult]::new(
        $c.Text,          # completionText
        $c.Text,          # listItemText
        'ParameterValue',  # resultType
        $tooltip          # toolTip
      )
    }
  }
  # Prevent fallback file-path completion (PowerShell/PowerShell#19628)
  if ($results.Count -eq 0) { return $null }
  $results
}
