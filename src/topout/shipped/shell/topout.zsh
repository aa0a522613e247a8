#compdef topout
# Completes the words of topout. topout completion zsh > a folder of your $fpath, as _topout



_shtab_topout_commands() {
  local _commands=(
    backup:'Its options follow it: topout backup --help.'
    check-procedure:'Says what a procedure of the workshop'"'"'s own is, or everything that is wrong with it. Nothing is kept.'
    compare:'Prints two builds side by side.'
    completion:'Prints what a shell needs to complete these words.'
    curve:'Prints the spring'"'"'s force along the travel.'
    export:'Its options follow it: topout export --help.'
    geometry:'Prints how the bike stands, at full extension and at sag.'
    help:'Prints a command'"'"'s options, or a document that comes with the program.'
    import:'Its options follow it: topout import --help.'
    inflate:'Prints the readings to expect while filling.'
    landing:'Prints the drop that uses all the travel.'
    new:'Writes a bench file with every key in it, what it is and what it may be. Nothing counts before its # is taken away.'
    options:'Prints what to fit and set so that the bike sits and springs as it did, or as --target wants it, with what [change] asks for: travel, spacers, tyres and pressure that it does not name may change, behind stroke, spacers, coil and pressure, by the parts of [[shelf]] too. What breaks a limit is left out; of the rest those stand that no other beats in stance, spring, cost and days.'
    owner-code:'Its options follow it: topout owner-code --help.'
    plan:'Prints before and after the change, and the pressure to set.'
    rebound:'Prints where to start with the rebound after a change of the spring.'
    restore:'Its options follow it: topout restore --help.'
    ride:'Prints what becomes of it where it is ridden, colder or higher up, and what to set here.'
    sag:'Prints where the bike rests under its rider.'
    serve:'Its options follow it: topout serve --help.'
    target:'Prints what to set or fit for a sag, an end force or a stance that is asked for.'
    verify:'Its options follow it: topout verify --help.'
    ways:'Prints another travel by shaft, piston spacer or chassis, side by side.'
  )
  _describe 'topout commands' _commands
}

_shtab_topout_options=(
  "(- : *)"{-h,--help}"[show this help message and exit]"
  {-V,--version}"[print the version and stop]"
)

# guard to ensure default positional specs are added only once per session
_shtab_topout_defaults_added=0

_shtab_topout_backup_options=(
  "(- : *)"{-h,--help}"[show this help message and exit]"
)

# guard to ensure default positional specs are added only once per session
_shtab_topout_backup_defaults_added=0

_shtab_topout_check_procedure_options=(
  "(- : *)"{-h,--help}"[show this help message and exit]"
  "--json[print one JSON object, for programs]"
  ":the procedure, TOML\; its name is the procedure\'s:_files"
)

# guard to ensure default positional specs are added only once per session
_shtab_topout_check_procedure_defaults_added=0

_shtab_topout_compare_options=(
  "(- : *)"{-h,--help}"[show this help message and exit]"
  "--json[print one JSON object a line, for programs]"
  "--csv[print one table of comma-separated values, SI]"
  "--units[metric, imperial or both (default\: the units that the file is written in)]:SYSTEM:(metric imperial both)"
  "--strict[end with status 1 where anything is warned of]"
  "(*)::two bench files\; - is standard input:_files"
)

# guard to ensure default positional specs are added only once per session
_shtab_topout_compare_defaults_added=0

_shtab_topout_completion_options=(
  "(- : *)"{-h,--help}"[show this help message and exit]"
  ":one of bash, zsh, fish, powershell:(bash zsh fish powershell)"
)

# guard to ensure default positional specs are added only once per session
_shtab_topout_completion_defaults_added=0

_shtab_topout_curve_options=(
  "(- : *)"{-h,--help}"[show this help message and exit]"
  "--json[print one JSON object a line, for programs]"
  "--csv[print one table of comma-separated values, SI]"
  "--units[metric, imperial or both (default\: the units that the file is written in)]:SYSTEM:(metric imperial both)"
  "--plot[draw the force along the travel to a .svg, .png or .pdf file]:PICTURE:_files"
  "--points[points along the travel, both ends in (default 201)]:N:"
  "--end[front or rear (default what the file has, front first)]:END:(front)"
  "(*)::a bench file, TOML\; several make one table\; - is standard input:_files"
)

# guard to ensure default positional specs are added only once per session
_shtab_topout_curve_defaults_added=0

_shtab_topout_export_options=(
  "(- : *)"{-h,--help}"[show this help message and exit]"
)

# guard to ensure default positional specs are added only once per session
_shtab_topout_export_defaults_added=0

_shtab_topout_geometry_options=(
  "(- : *)"{-h,--help}"[show this help message and exit]"
  "--json[print one JSON object a line, for programs]"
  "--csv[print one table of comma-separated values, SI]"
  "--units[metric, imperial or both (default\: the units that the file is written in)]:SYSTEM:(metric imperial both)"
  "--plot[draw the stance to a .svg, .png or .pdf file]:PICTURE:_files"
  "(*)::a bench file, TOML\; several make one table\; - is standard input:_files"
)

# guard to ensure default positional specs are added only once per session
_shtab_topout_geometry_defaults_added=0

_shtab_topout_help_options=(
  "(- : *)"{-h,--help}"[show this help message and exit]"
  ":a command, a document, or examples:(new curve sag geometry plan compare inflate target landing ride rebound ways options check-procedure help completion serve owner-code backup restore verify export import accessibility architecture backups bench-file command-line documents glossary models planted-faults procedures serving examples)"
)

# guard to ensure default positional specs are added only once per session
_shtab_topout_help_defaults_added=0

_shtab_topout_import_options=(
  "(- : *)"{-h,--help}"[show this help message and exit]"
)

# guard to ensure default positional specs are added only once per session
_shtab_topout_import_defaults_added=0

_shtab_topout_inflate_options=(
  "(- : *)"{-h,--help}"[show this help message and exit]"
  "--json[print one JSON object a line, for programs]"
  "--csv[print one table of comma-separated values, SI]"
  "--units[metric, imperial or both (default\: the units that the file is written in)]:SYSTEM:(metric imperial both)"
  "--to[fill to, \"62 psi\" (default\: the file\'s pressure)]:PRESSURE:"
  "*--stop[stop on the way\; may be repeated]:PRESSURE:"
  "--gauge[what the gauge can show (default \"1 psi\")]:PRESSURE:"
  "--hose[volume of the pump\'s hose, \"3 ml\" (default none)]:VOLUME:"
  "(*)::a bench file, TOML\; several make one table\; - is standard input:_files"
)

# guard to ensure default positional specs are added only once per session
_shtab_topout_inflate_defaults_added=0

_shtab_topout_landing_options=(
  "(- : *)"{-h,--help}"[show this help message and exit]"
  "--json[print one JSON object a line, for programs]"
  "--csv[print one table of comma-separated values, SI]"
  "--units[metric, imperial or both (default\: the units that the file is written in)]:SYSTEM:(metric imperial both)"
  "--end[front or rear (default what the file has, front first)]:END:(front)"
  "(*)::a bench file, TOML\; several make one table\; - is standard input:_files"
)

# guard to ensure default positional specs are added only once per session
_shtab_topout_landing_defaults_added=0

_shtab_topout_new_options=(
  "(- : *)"{-h,--help}"[show this help message and exit]"
  "--from[filled in as an example is\: topout help examples]:EXAMPLE:(air-shock-and-its-shelf another-chassis coil-fork coil-shock-and-its-shelf gas-damper larger-front-wheel load-from-the-sag-found locks-with-five-spacers longer-travel negative-coil over-its-pressure-limit parts-on-the-shelf piston-spacer port-further-in port-with-a-length rear-shock separate-valve smaller-rear-wheel taller-tyres)"
  "--overwrite[write over a file that is there already]"
  ":the file to write (default bench.toml)\; - prints it:_files"
)

# guard to ensure default positional specs are added only once per session
_shtab_topout_new_defaults_added=0

_shtab_topout_options_options=(
  "(- : *)"{-h,--help}"[show this help message and exit]"
  "--json[print one JSON object a line, for programs]"
  "--csv[print one table of comma-separated values, SI]"
  "--units[metric, imperial or both (default\: the units that the file is written in)]:SYSTEM:(metric imperial both)"
  "--limit[how many to print (default 10)]:N:"
  "*--offset[an offset to try too, \"51 mm\"\; may be repeated]:LENGTH:"
  "--family[the fork\'s family\: parts of another are left out]:NAME:"
  "--rear-family[the shock\'s family, likewise]:NAME:"
  "--end[front, rear or both (default\: what \[change\] or --target names, else the fork where there is one)]:END:(front)"
  "*--target[near to this in place of how it is\: \"sag 20\%\", \"rear sag 30\%\", \"head angle 64 deg\", by the names of topout target\; may be repeated]:WANTED:"
  "--gauge[what the gauge can show (default \"1 psi\")]:PRESSURE:"
  "(*)::a bench file, TOML\; several make one table\; - is standard input:_files"
)

# guard to ensure default positional specs are added only once per session
_shtab_topout_options_defaults_added=0

_shtab_topout_owner_code_options=(
  "(- : *)"{-h,--help}"[show this help message and exit]"
)

# guard to ensure default positional specs are added only once per session
_shtab_topout_owner_code_defaults_added=0

_shtab_topout_plan_options=(
  "(- : *)"{-h,--help}"[show this help message and exit]"
  "--json[print one JSON object a line, for programs]"
  "--csv[print one table of comma-separated values, SI]"
  "--units[metric, imperial or both (default\: the units that the file is written in)]:SYSTEM:(metric imperial both)"
  "--plot[draw the stance before and after (the force along the travel where the file has no \[frame\]) to a .svg, .png or .pdf file]:PICTURE:_files"
  "--strict[end with status 1 where anything is warned of]"
  "(*)::a bench file, TOML\; several make one table\; - is standard input:_files"
)

# guard to ensure default positional specs are added only once per session
_shtab_topout_plan_defaults_added=0

_shtab_topout_rebound_options=(
  "(- : *)"{-h,--help}"[show this help message and exit]"
  "--json[print one JSON object a line, for programs]"
  "--csv[print one table of comma-separated values, SI]"
  "--units[metric, imperial or both (default\: the units that the file is written in)]:SYSTEM:(metric imperial both)"
  "--clicks[rebound clicks from closed, as they were]:N:"
  "--of[rebound clicks in all, from closed to open]:N:"
  "--end[front or rear (default what the file has, front first)]:END:(front)"
  "(*)::a bench file, TOML\; several make one table\; - is standard input:_files"
)

# guard to ensure default positional specs are added only once per session
_shtab_topout_rebound_defaults_added=0

_shtab_topout_restore_options=(
  "(- : *)"{-h,--help}"[show this help message and exit]"
)

# guard to ensure default positional specs are added only once per session
_shtab_topout_restore_defaults_added=0

_shtab_topout_ride_options=(
  "(- : *)"{-h,--help}"[show this help message and exit]"
  "--json[print one JSON object a line, for programs]"
  "--csv[print one table of comma-separated values, SI]"
  "--units[metric, imperial or both (default\: the units that the file is written in)]:SYSTEM:(metric imperial both)"
  "--temperature[of the air where it is ridden, \"0 degC\"\; a cold one is written --temperature\=-5degC]:TEMPERATURE:"
  "--altitude[of where it is ridden, \"1500 m\" (default for both\: the file\'s \[ride\])]:HEIGHT:"
  "--end[front or rear (default what the file has, front first)]:END:(front)"
  "(*)::a bench file, TOML\; several make one table\; - is standard input:_files"
)

# guard to ensure default positional specs are added only once per session
_shtab_topout_ride_defaults_added=0

_shtab_topout_sag_options=(
  "(- : *)"{-h,--help}"[show this help message and exit]"
  "--json[print one JSON object a line, for programs]"
  "--csv[print one table of comma-separated values, SI]"
  "--units[metric, imperial or both (default\: the units that the file is written in)]:SYSTEM:(metric imperial both)"
  "--plot[draw the stance at sag (the force along the travel where the file has no \[frame\]) to a .svg, .png or .pdf file]:PICTURE:_files"
  "(*)::a bench file, TOML\; several make one table\; - is standard input:_files"
)

# guard to ensure default positional specs are added only once per session
_shtab_topout_sag_defaults_added=0

_shtab_topout_serve_options=(
  "(- : *)"{-h,--help}"[show this help message and exit]"
)

# guard to ensure default positional specs are added only once per session
_shtab_topout_serve_defaults_added=0

_shtab_topout_target_options=(
  "(- : *)"{-h,--help}"[show this help message and exit]"
  "--json[print one JSON object a line, for programs]"
  "--csv[print one table of comma-separated values, SI]"
  "--units[metric, imperial or both (default\: the units that the file is written in)]:SYSTEM:(metric imperial both)"
  "--sag[the sag wanted, a share of the travel or a length\: \"20\%\", \"30 mm\"]:SAG:"
  "--end-force[the force wanted at the end of the travel, \"1800 N\"]:FORCE:"
  "--end-force-change[the same against the bike as it is\; a lesser one is written --end-force-change\=-52N]:FORCE:"
  "--rear-sag[the sag wanted at the shock, a share of its stroke or a length of it\: \"30\%\", \"16 mm\"]:SAG:"
  "--head-angle[the head angle wanted at full extension, \"65 deg\"\: which fork length gives it]:ANGLE:"
  "--trail[the trail wanted, likewise, \"115 mm\"]:LENGTH:"
  "--bb-height[the height of the bottom bracket wanted, likewise, \"340 mm\"]:LENGTH:"
  "(*)::a bench file, TOML\; several make one table\; - is standard input:_files"
)

# guard to ensure default positional specs are added only once per session
_shtab_topout_target_defaults_added=0

_shtab_topout_verify_options=(
  "(- : *)"{-h,--help}"[show this help message and exit]"
)

# guard to ensure default positional specs are added only once per session
_shtab_topout_verify_defaults_added=0

_shtab_topout_ways_options=(
  "(- : *)"{-h,--help}"[show this help message and exit]"
  "--json[print one JSON object a line, for programs]"
  "--csv[print one table of comma-separated values, SI]"
  "--units[metric, imperial or both (default\: the units that the file is written in)]:SYSTEM:(metric imperial both)"
  "(*)::a bench file, TOML\; several make one table\; - is standard input:_files"
)

# guard to ensure default positional specs are added only once per session
_shtab_topout_ways_defaults_added=0


_shtab_topout() {
  local context state line curcontext="$curcontext" one_or_more='(*)' remainder='(-)*:' default='*::: :->topout'

  # Add default positional/remainder specs only if none exist, and only once per session
  if (( ! _shtab_topout_defaults_added )); then
    if (( ${_shtab_topout_options[(I)${(q)one_or_more}*]} +          ${_shtab_topout_options[(I)${(q)remainder}*]} +          ${_shtab_topout_options[(I)${(q)default}]} == 0 )); then
      _shtab_topout_options+=(': :_shtab_topout_commands' '*::: :->topout')
    fi
    _shtab_topout_defaults_added=1
  fi
  _arguments -C -s $_shtab_topout_options

  case $state in
    topout)
      words=($line[1] "${words[@]}")
      (( CURRENT += 1 ))
      curcontext="${curcontext%:*:*}:_shtab_topout-$line[1]:"
      case $line[1] in
        backup) _arguments -C -s $_shtab_topout_backup_options ;;
        check-procedure) _arguments -C -s $_shtab_topout_check_procedure_options ;;
        compare) _arguments -C -s $_shtab_topout_compare_options ;;
        completion) _arguments -C -s $_shtab_topout_completion_options ;;
        curve) _arguments -C -s $_shtab_topout_curve_options ;;
        export) _arguments -C -s $_shtab_topout_export_options ;;
        geometry) _arguments -C -s $_shtab_topout_geometry_options ;;
        help) _arguments -C -s $_shtab_topout_help_options ;;
        import) _arguments -C -s $_shtab_topout_import_options ;;
        inflate) _arguments -C -s $_shtab_topout_inflate_options ;;
        landing) _arguments -C -s $_shtab_topout_landing_options ;;
        new) _arguments -C -s $_shtab_topout_new_options ;;
        options) _arguments -C -s $_shtab_topout_options_options ;;
        owner-code) _arguments -C -s $_shtab_topout_owner_code_options ;;
        plan) _arguments -C -s $_shtab_topout_plan_options ;;
        rebound) _arguments -C -s $_shtab_topout_rebound_options ;;
        restore) _arguments -C -s $_shtab_topout_restore_options ;;
        ride) _arguments -C -s $_shtab_topout_ride_options ;;
        sag) _arguments -C -s $_shtab_topout_sag_options ;;
        serve) _arguments -C -s $_shtab_topout_serve_options ;;
        target) _arguments -C -s $_shtab_topout_target_options ;;
        verify) _arguments -C -s $_shtab_topout_verify_options ;;
        ways) _arguments -C -s $_shtab_topout_ways_options ;;
      esac
  esac
}



typeset -A opt_args

if [[ $zsh_eval_context[-1] == eval ]]; then
  # eval/source/. command, register function for later
  compdef _shtab_topout -N topout
else
  # autoload from fpath, call function directly
  _shtab_topout "$@"
fi
