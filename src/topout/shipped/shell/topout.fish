# Completes the words of topout. topout completion fish > ~/.config/fish/completions/topout.fish


# Parse current commandline:
# - _shtab_topout_cmdpath=(sub)command path seen so far
# - _shtab_topout_npos=number of positional arguments given after it
# - options are skipped based on _shtab_topout_opts_with_value & _shtab_topout_commands lists
function _shtab_topout_scan
  set -g _shtab_topout_cmdpath ''
  set -g _shtab_topout_npos 0
  set -l tokens (commandline -opc)
  set -e tokens[1]
  set -l expect_value 0
  for t in $tokens
    if test $expect_value -eq 1
      set expect_value 0
      continue
    end
    switch "$t"
      case '--*=*'
        continue
      case '-*'
        if contains -- $t $_shtab_topout_opts_with_value
          set expect_value 1
        end
        continue
      case '*'
        if test $_shtab_topout_npos -eq 0
          set -l candidate $t
          if test -n "$_shtab_topout_cmdpath"
            set candidate "$_shtab_topout_cmdpath $t"
          end
          if contains -- $candidate $_shtab_topout_commands
            set -g _shtab_topout_cmdpath $candidate
            continue
          end
        end
        set -g _shtab_topout_npos (math $_shtab_topout_npos + 1)
    end
  end
end

# Condition helper: true if the current (sub)command path equals the given one.
function _shtab_topout_using
  _shtab_topout_scan
  test "$_shtab_topout_cmdpath" = "$argv"
end

set -g _shtab_topout_commands new curve sag geometry plan compare inflate target landing ride rebound ways options check-procedure help completion serve owner-code backup restore verify export import
set -g _shtab_topout_opts_with_value --altitude --bb-height --clicks --end --end-force --end-force-change --family --from --gauge --head-angle --hose --limit --of --offset --plot --points --rear-family --rear-sag --sag --stop --target --temperature --to --trail --units

complete -c topout -e
complete -c topout -f

complete -c topout -n _shtab_topout_using -s h -l help -d 'show this help message and exit'
complete -c topout -n _shtab_topout_using -s V -l version -d 'print the version and stop'
complete -c topout -n '_shtab_topout_using; and test $_shtab_topout_npos -eq 0' -a new -d 'Writes a bench file with every key in it, what it is and what it may be. Nothing counts before its # is taken away.'
complete -c topout -n '_shtab_topout_using new' -s h -l help -d 'show this help message and exit'
complete -c topout -n '_shtab_topout_using new' -l from -xka "air-shock-and-its-shelf another-chassis coil-fork coil-shock-and-its-shelf gas-damper larger-front-wheel load-from-the-sag-found locks-with-five-spacers longer-travel negative-coil over-its-pressure-limit parts-on-the-shelf piston-spacer port-further-in port-with-a-length rear-shock separate-valve smaller-rear-wheel taller-tyres" -d 'filled in as an example is: topout help examples'
complete -c topout -n '_shtab_topout_using new' -l overwrite -d 'write over a file that is there already'
complete -c topout -n '_shtab_topout_using new; and test $_shtab_topout_npos -eq 0' -ka "(__fish_complete_path (commandline -ct))" -d 'the file to write (default bench.toml); - prints it'
complete -c topout -n '_shtab_topout_using; and test $_shtab_topout_npos -eq 0' -a curve -d 'Prints the spring'"'"'s force along the travel.'
complete -c topout -n '_shtab_topout_using curve' -s h -l help -d 'show this help message and exit'
complete -c topout -n '_shtab_topout_using curve' -l json -d 'print one JSON object a line, for programs'
complete -c topout -n '_shtab_topout_using curve' -l csv -d 'print one table of comma-separated values, SI'
complete -c topout -n '_shtab_topout_using curve' -l units -xka "metric imperial both" -d 'metric, imperial or both (default: the units that the file is written in)'
complete -c topout -n '_shtab_topout_using curve' -l plot -xka "(__fish_complete_path (commandline -ct))" -d 'draw the force along the travel to a .svg, .png or .pdf file'
complete -c topout -n '_shtab_topout_using curve' -l points -x -d 'points along the travel, both ends in (default 201)'
complete -c topout -n '_shtab_topout_using curve' -l end -xka "front" -d 'front or rear (default what the file has, front first)'
complete -c topout -n '_shtab_topout_using curve; and test $_shtab_topout_npos -ge 0' -ka "(__fish_complete_path (commandline -ct))" -d 'a bench file, TOML; several make one table; - is standard input'
complete -c topout -n '_shtab_topout_using; and test $_shtab_topout_npos -eq 0' -a sag -d 'Prints where the bike rests under its rider.'
complete -c topout -n '_shtab_topout_using sag' -s h -l help -d 'show this help message and exit'
complete -c topout -n '_shtab_topout_using sag' -l json -d 'print one JSON object a line, for programs'
complete -c topout -n '_shtab_topout_using sag' -l csv -d 'print one table of comma-separated values, SI'
complete -c topout -n '_shtab_topout_using sag' -l units -xka "metric imperial both" -d 'metric, imperial or both (default: the units that the file is written in)'
complete -c topout -n '_shtab_topout_using sag' -l plot -xka "(__fish_complete_path (commandline -ct))" -d 'draw the stance at sag (the force along the travel where the file has no [frame]) to a .svg, .png or .pdf file'
complete -c topout -n '_shtab_topout_using sag; and test $_shtab_topout_npos -ge 0' -ka "(__fish_complete_path (commandline -ct))" -d 'a bench file, TOML; several make one table; - is standard input'
complete -c topout -n '_shtab_topout_using; and test $_shtab_topout_npos -eq 0' -a geometry -d 'Prints how the bike stands, at full extension and at sag.'
complete -c topout -n '_shtab_topout_using geometry' -s h -l help -d 'show this help message and exit'
complete -c topout -n '_shtab_topout_using geometry' -l json -d 'print one JSON object a line, for programs'
complete -c topout -n '_shtab_topout_using geometry' -l csv -d 'print one table of comma-separated values, SI'
complete -c topout -n '_shtab_topout_using geometry' -l units -xka "metric imperial both" -d 'metric, imperial or both (default: the units that the file is written in)'
complete -c topout -n '_shtab_topout_using geometry' -l plot -xka "(__fish_complete_path (commandline -ct))" -d 'draw the stance to a .svg, .png or .pdf file'
complete -c topout -n '_shtab_topout_using geometry; and test $_shtab_topout_npos -ge 0' -ka "(__fish_complete_path (commandline -ct))" -d 'a bench file, TOML; several make one table; - is standard input'
complete -c topout -n '_shtab_topout_using; and test $_shtab_topout_npos -eq 0' -a plan -d 'Prints before and after the change, and the pressure to set.'
complete -c topout -n '_shtab_topout_using plan' -s h -l help -d 'show this help message and exit'
complete -c topout -n '_shtab_topout_using plan' -l json -d 'print one JSON object a line, for programs'
complete -c topout -n '_shtab_topout_using plan' -l csv -d 'print one table of comma-separated values, SI'
complete -c topout -n '_shtab_topout_using plan' -l units -xka "metric imperial both" -d 'metric, imperial or both (default: the units that the file is written in)'
complete -c topout -n '_shtab_topout_using plan' -l plot -xka "(__fish_complete_path (commandline -ct))" -d 'draw the stance before and after (the force along the travel where the file has no [frame]) to a .svg, .png or .pdf file'
complete -c topout -n '_shtab_topout_using plan' -l strict -d 'end with status 1 where anything is warned of'
complete -c topout -n '_shtab_topout_using plan; and test $_shtab_topout_npos -ge 0' -ka "(__fish_complete_path (commandline -ct))" -d 'a bench file, TOML; several make one table; - is standard input'
complete -c topout -n '_shtab_topout_using; and test $_shtab_topout_npos -eq 0' -a compare -d 'Prints two builds side by side.'
complete -c topout -n '_shtab_topout_using compare' -s h -l help -d 'show this help message and exit'
complete -c topout -n '_shtab_topout_using compare' -l json -d 'print one JSON object a line, for programs'
complete -c topout -n '_shtab_topout_using compare' -l csv -d 'print one table of comma-separated values, SI'
complete -c topout -n '_shtab_topout_using compare' -l units -xka "metric imperial both" -d 'metric, imperial or both (default: the units that the file is written in)'
complete -c topout -n '_shtab_topout_using compare' -l strict -d 'end with status 1 where anything is warned of'
complete -c topout -n '_shtab_topout_using compare; and test $_shtab_topout_npos -ge 0' -ka "(__fish_complete_path (commandline -ct))" -d 'two bench files; - is standard input'
complete -c topout -n '_shtab_topout_using; and test $_shtab_topout_npos -eq 0' -a inflate -d 'Prints the readings to expect while filling.'
complete -c topout -n '_shtab_topout_using inflate' -s h -l help -d 'show this help message and exit'
complete -c topout -n '_shtab_topout_using inflate' -l json -d 'print one JSON object a line, for programs'
complete -c topout -n '_shtab_topout_using inflate' -l csv -d 'print one table of comma-separated values, SI'
complete -c topout -n '_shtab_topout_using inflate' -l units -xka "metric imperial both" -d 'metric, imperial or both (default: the units that the file is written in)'
complete -c topout -n '_shtab_topout_using inflate' -l to -x -d 'fill to, "62 psi" (default: the file'"'"'s pressure)'
complete -c topout -n '_shtab_topout_using inflate' -l stop -x -d 'stop on the way; may be repeated'
complete -c topout -n '_shtab_topout_using inflate' -l gauge -x -d 'what the gauge can show (default "1 psi")'
complete -c topout -n '_shtab_topout_using inflate' -l hose -x -d 'volume of the pump'"'"'s hose, "3 ml" (default none)'
complete -c topout -n '_shtab_topout_using inflate; and test $_shtab_topout_npos -ge 0' -ka "(__fish_complete_path (commandline -ct))" -d 'a bench file, TOML; several make one table; - is standard input'
complete -c topout -n '_shtab_topout_using; and test $_shtab_topout_npos -eq 0' -a target -d 'Prints what to set or fit for a sag, an end force or a stance that is asked for.'
complete -c topout -n '_shtab_topout_using target' -s h -l help -d 'show this help message and exit'
complete -c topout -n '_shtab_topout_using target' -l json -d 'print one JSON object a line, for programs'
complete -c topout -n '_shtab_topout_using target' -l csv -d 'print one table of comma-separated values, SI'
complete -c topout -n '_shtab_topout_using target' -l units -xka "metric imperial both" -d 'metric, imperial or both (default: the units that the file is written in)'
complete -c topout -n '_shtab_topout_using target' -l sag -x -d 'the sag wanted, a share of the travel or a length: "20%", "30 mm"'
complete -c topout -n '_shtab_topout_using target' -l end-force -x -d 'the force wanted at the end of the travel, "1800 N"'
complete -c topout -n '_shtab_topout_using target' -l end-force-change -x -d 'the same against the bike as it is; a lesser one is written --end-force-change=-52N'
complete -c topout -n '_shtab_topout_using target' -l rear-sag -x -d 'the sag wanted at the shock, a share of its stroke or a length of it: "30%", "16 mm"'
complete -c topout -n '_shtab_topout_using target' -l head-angle -x -d 'the head angle wanted at full extension, "65 deg": which fork length gives it'
complete -c topout -n '_shtab_topout_using target' -l trail -x -d 'the trail wanted, likewise, "115 mm"'
complete -c topout -n '_shtab_topout_using target' -l bb-height -x -d 'the height of the bottom bracket wanted, likewise, "340 mm"'
complete -c topout -n '_shtab_topout_using target; and test $_shtab_topout_npos -ge 0' -ka "(__fish_complete_path (commandline -ct))" -d 'a bench file, TOML; several make one table; - is standard input'
complete -c topout -n '_shtab_topout_using; and test $_shtab_topout_npos -eq 0' -a landing -d 'Prints the drop that uses all the travel.'
complete -c topout -n '_shtab_topout_using landing' -s h -l help -d 'show this help message and exit'
complete -c topout -n '_shtab_topout_using landing' -l json -d 'print one JSON object a line, for programs'
complete -c topout -n '_shtab_topout_using landing' -l csv -d 'print one table of comma-separated values, SI'
complete -c topout -n '_shtab_topout_using landing' -l units -xka "metric imperial both" -d 'metric, imperial or both (default: the units that the file is written in)'
complete -c topout -n '_shtab_topout_using landing' -l end -xka "front" -d 'front or rear (default what the file has, front first)'
complete -c topout -n '_shtab_topout_using landing; and test $_shtab_topout_npos -ge 0' -ka "(__fish_complete_path (commandline -ct))" -d 'a bench file, TOML; several make one table; - is standard input'
complete -c topout -n '_shtab_topout_using; and test $_shtab_topout_npos -eq 0' -a ride -d 'Prints what becomes of it where it is ridden, colder or higher up, and what to set here.'
complete -c topout -n '_shtab_topout_using ride' -s h -l help -d 'show this help message and exit'
complete -c topout -n '_shtab_topout_using ride' -l json -d 'print one JSON object a line, for programs'
complete -c topout -n '_shtab_topout_using ride' -l csv -d 'print one table of comma-separated values, SI'
complete -c topout -n '_shtab_topout_using ride' -l units -xka "metric imperial both" -d 'metric, imperial or both (default: the units that the file is written in)'
complete -c topout -n '_shtab_topout_using ride' -l temperature -x -d 'of the air where it is ridden, "0 degC"; a cold one is written --temperature=-5degC'
complete -c topout -n '_shtab_topout_using ride' -l altitude -x -d 'of where it is ridden, "1500 m" (default for both: the file'"'"'s [ride])'
complete -c topout -n '_shtab_topout_using ride' -l end -xka "front" -d 'front or rear (default what the file has, front first)'
complete -c topout -n '_shtab_topout_using ride; and test $_shtab_topout_npos -ge 0' -ka "(__fish_complete_path (commandline -ct))" -d 'a bench file, TOML; several make one table; - is standard input'
complete -c topout -n '_shtab_topout_using; and test $_shtab_topout_npos -eq 0' -a rebound -d 'Prints where to start with the rebound after a change of the spring.'
complete -c topout -n '_shtab_topout_using rebound' -s h -l help -d 'show this help message and exit'
complete -c topout -n '_shtab_topout_using rebound' -l json -d 'print one JSON object a line, for programs'
complete -c topout -n '_shtab_topout_using rebound' -l csv -d 'print one table of comma-separated values, SI'
complete -c topout -n '_shtab_topout_using rebound' -l units -xka "metric imperial both" -d 'metric, imperial or both (default: the units that the file is written in)'
complete -c topout -n '_shtab_topout_using rebound' -l clicks -x -d 'rebound clicks from closed, as they were'
complete -c topout -n '_shtab_topout_using rebound' -l of -x -d 'rebound clicks in all, from closed to open'
complete -c topout -n '_shtab_topout_using rebound' -l end -xka "front" -d 'front or rear (default what the file has, front first)'
complete -c topout -n '_shtab_topout_using rebound; and test $_shtab_topout_npos -ge 0' -ka "(__fish_complete_path (commandline -ct))" -d 'a bench file, TOML; several make one table; - is standard input'
complete -c topout -n '_shtab_topout_using; and test $_shtab_topout_npos -eq 0' -a ways -d 'Prints another travel by shaft, piston spacer or chassis, side by side.'
complete -c topout -n '_shtab_topout_using ways' -s h -l help -d 'show this help message and exit'
complete -c topout -n '_shtab_topout_using ways' -l json -d 'print one JSON object a line, for programs'
complete -c topout -n '_shtab_topout_using ways' -l csv -d 'print one table of comma-separated values, SI'
complete -c topout -n '_shtab_topout_using ways' -l units -xka "metric imperial both" -d 'metric, imperial or both (default: the units that the file is written in)'
complete -c topout -n '_shtab_topout_using ways; and test $_shtab_topout_npos -ge 0' -ka "(__fish_complete_path (commandline -ct))" -d 'a bench file, TOML; several make one table; - is standard input'
complete -c topout -n '_shtab_topout_using; and test $_shtab_topout_npos -eq 0' -a options -d 'Prints what to fit and set so that the bike sits and springs as it did, or as --target wants it, with what [change] asks for: travel, spacers, tyres and pressure that it does not name may change, behind stroke, spacers, coil and pressure, by the parts of [[shelf]] too. What breaks a limit is left out; of the rest those stand that no other beats in stance, spring, cost and days.'
complete -c topout -n '_shtab_topout_using options' -s h -l help -d 'show this help message and exit'
complete -c topout -n '_shtab_topout_using options' -l json -d 'print one JSON object a line, for programs'
complete -c topout -n '_shtab_topout_using options' -l csv -d 'print one table of comma-separated values, SI'
complete -c topout -n '_shtab_topout_using options' -l units -xka "metric imperial both" -d 'metric, imperial or both (default: the units that the file is written in)'
complete -c topout -n '_shtab_topout_using options' -l limit -x -d 'how many to print (default 10)'
complete -c topout -n '_shtab_topout_using options' -l offset -x -d 'an offset to try too, "51 mm"; may be repeated'
complete -c topout -n '_shtab_topout_using options' -l family -x -d 'the fork'"'"'s family: parts of another are left out'
complete -c topout -n '_shtab_topout_using options' -l rear-family -x -d 'the shock'"'"'s family, likewise'
complete -c topout -n '_shtab_topout_using options' -l end -xka "front" -d 'front, rear or both (default: what [change] or --target names, else the fork where there is one)'
complete -c topout -n '_shtab_topout_using options' -l target -x -d 'near to this in place of how it is: "sag 20%", "rear sag 30%", "head angle 64 deg", by the names of topout target; may be repeated'
complete -c topout -n '_shtab_topout_using options' -l gauge -x -d 'what the gauge can show (default "1 psi")'
complete -c topout -n '_shtab_topout_using options; and test $_shtab_topout_npos -ge 0' -ka "(__fish_complete_path (commandline -ct))" -d 'a bench file, TOML; several make one table; - is standard input'
complete -c topout -n '_shtab_topout_using; and test $_shtab_topout_npos -eq 0' -a check-procedure -d 'Says what a procedure of the workshop'"'"'s own is, or everything that is wrong with it. Nothing is kept.'
complete -c topout -n '_shtab_topout_using check-procedure' -s h -l help -d 'show this help message and exit'
complete -c topout -n '_shtab_topout_using check-procedure' -l json -d 'print one JSON object, for programs'
complete -c topout -n '_shtab_topout_using check-procedure; and test $_shtab_topout_npos -eq 0' -ka "(__fish_complete_path (commandline -ct))" -d 'the procedure, TOML; its name is the procedure'"'"'s'
complete -c topout -n '_shtab_topout_using; and test $_shtab_topout_npos -eq 0' -a help -d 'Prints a command'"'"'s options, or a document that comes with the program.'
complete -c topout -n '_shtab_topout_using help' -s h -l help -d 'show this help message and exit'
complete -c topout -n '_shtab_topout_using help; and test $_shtab_topout_npos -eq 0' -ka "new curve sag geometry plan compare inflate target landing ride rebound ways options check-procedure help completion serve owner-code backup restore verify export import accessibility architecture backups bench-file command-line documents glossary models planted-faults procedures serving examples" -d 'a command, a document, or examples'
complete -c topout -n '_shtab_topout_using; and test $_shtab_topout_npos -eq 0' -a completion -d 'Prints what a shell needs to complete these words.'
complete -c topout -n '_shtab_topout_using completion' -s h -l help -d 'show this help message and exit'
complete -c topout -n '_shtab_topout_using completion; and test $_shtab_topout_npos -eq 0' -ka "bash zsh fish powershell" -d 'one of bash, zsh, fish, powershell'
complete -c topout -n '_shtab_topout_using; and test $_shtab_topout_npos -eq 0' -a serve -d 'Its options follow it: topout serve --help.'
complete -c topout -n '_shtab_topout_using serve' -s h -l help -d 'show this help message and exit'
complete -c topout -n '_shtab_topout_using; and test $_shtab_topout_npos -eq 0' -a owner-code -d 'Its options follow it: topout owner-code --help.'
complete -c topout -n '_shtab_topout_using owner-code' -s h -l help -d 'show this help message and exit'
complete -c topout -n '_shtab_topout_using; and test $_shtab_topout_npos -eq 0' -a backup -d 'Its options follow it: topout backup --help.'
complete -c topout -n '_shtab_topout_using backup' -s h -l help -d 'show this help message and exit'
complete -c topout -n '_shtab_topout_using; and test $_shtab_topout_npos -eq 0' -a restore -d 'Its options follow it: topout restore --help.'
complete -c topout -n '_shtab_topout_using restore' -s h -l help -d 'show this help message and exit'
complete -c topout -n '_shtab_topout_using; and test $_shtab_topout_npos -eq 0' -a verify -d 'Its options follow it: topout verify --help.'
complete -c topout -n '_shtab_topout_using verify' -s h -l help -d 'show this help message and exit'
complete -c topout -n '_shtab_topout_using; and test $_shtab_topout_npos -eq 0' -a export -d 'Its options follow it: topout export --help.'
complete -c topout -n '_shtab_topout_using export' -s h -l help -d 'show this help message and exit'
complete -c topout -n '_shtab_topout_using; and test $_shtab_topout_npos -eq 0' -a import -d 'Its options follow it: topout import --help.'
complete -c topout -n '_shtab_topout_using import' -s h -l help -d 'show this help message and exit'
