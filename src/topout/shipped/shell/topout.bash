# Completes the words of topout. topout completion bash > ~/.local/share/bash-completion/completions/topout

_shtab_topout_subparsers=(new curve sag geometry plan compare inflate target landing ride rebound ways options check-procedure help completion serve owner-code backup restore verify export import)

_shtab_topout_new_option_strings=(-h --help --from --overwrite)
_shtab_topout_curve_option_strings=(-h --help --json --csv --units --plot --points --end)
_shtab_topout_sag_option_strings=(-h --help --json --csv --units --plot)
_shtab_topout_geometry_option_strings=(-h --help --json --csv --units --plot)
_shtab_topout_plan_option_strings=(-h --help --json --csv --units --plot --strict)
_shtab_topout_compare_option_strings=(-h --help --json --csv --units --strict)
_shtab_topout_inflate_option_strings=(-h --help --json --csv --units --to --stop --gauge --hose)
_shtab_topout_target_option_strings=(-h --help --json --csv --units --sag --end-force --end-force-change --rear-sag --head-angle --trail --bb-height)
_shtab_topout_landing_option_strings=(-h --help --json --csv --units --end)
_shtab_topout_ride_option_strings=(-h --help --json --csv --units --temperature --altitude --end)
_shtab_topout_rebound_option_strings=(-h --help --json --csv --units --clicks --of --end)
_shtab_topout_ways_option_strings=(-h --help --json --csv --units)
_shtab_topout_options_option_strings=(-h --help --json --csv --units --limit --offset --family --rear-family --end --target --gauge)
_shtab_topout_check_procedure_option_strings=(-h --help --json)
_shtab_topout_help_option_strings=(-h --help)
_shtab_topout_completion_option_strings=(-h --help)
_shtab_topout_serve_option_strings=(-h --help)
_shtab_topout_owner_code_option_strings=(-h --help)
_shtab_topout_backup_option_strings=(-h --help)
_shtab_topout_restore_option_strings=(-h --help)
_shtab_topout_verify_option_strings=(-h --help)
_shtab_topout_export_option_strings=(-h --help)
_shtab_topout_import_option_strings=(-h --help)
_shtab_topout_option_strings=(-h --help -V --version)

_shtab_topout_new_pos_0_COMPGEN=_shtab_compgen_files
_shtab_topout_curve_pos_0_COMPGEN=_shtab_compgen_files
_shtab_topout_curve___plot_COMPGEN=_shtab_compgen_files
_shtab_topout_sag_pos_0_COMPGEN=_shtab_compgen_files
_shtab_topout_sag___plot_COMPGEN=_shtab_compgen_files
_shtab_topout_geometry_pos_0_COMPGEN=_shtab_compgen_files
_shtab_topout_geometry___plot_COMPGEN=_shtab_compgen_files
_shtab_topout_plan_pos_0_COMPGEN=_shtab_compgen_files
_shtab_topout_plan___plot_COMPGEN=_shtab_compgen_files
_shtab_topout_compare_pos_0_COMPGEN=_shtab_compgen_files
_shtab_topout_inflate_pos_0_COMPGEN=_shtab_compgen_files
_shtab_topout_target_pos_0_COMPGEN=_shtab_compgen_files
_shtab_topout_landing_pos_0_COMPGEN=_shtab_compgen_files
_shtab_topout_ride_pos_0_COMPGEN=_shtab_compgen_files
_shtab_topout_rebound_pos_0_COMPGEN=_shtab_compgen_files
_shtab_topout_ways_pos_0_COMPGEN=_shtab_compgen_files
_shtab_topout_options_pos_0_COMPGEN=_shtab_compgen_files
_shtab_topout_check_procedure_pos_0_COMPGEN=_shtab_compgen_files

_shtab_topout_new___from_choices=(air-shock-and-its-shelf another-chassis coil-fork coil-shock-and-its-shelf gas-damper larger-front-wheel load-from-the-sag-found locks-with-five-spacers longer-travel negative-coil over-its-pressure-limit parts-on-the-shelf piston-spacer port-further-in port-with-a-length rear-shock separate-valve smaller-rear-wheel taller-tyres)
_shtab_topout_curve___units_choices=(metric imperial both)
_shtab_topout_curve___end_choices=(front)
_shtab_topout_sag___units_choices=(metric imperial both)
_shtab_topout_geometry___units_choices=(metric imperial both)
_shtab_topout_plan___units_choices=(metric imperial both)
_shtab_topout_compare___units_choices=(metric imperial both)
_shtab_topout_inflate___units_choices=(metric imperial both)
_shtab_topout_target___units_choices=(metric imperial both)
_shtab_topout_landing___units_choices=(metric imperial both)
_shtab_topout_landing___end_choices=(front)
_shtab_topout_ride___units_choices=(metric imperial both)
_shtab_topout_ride___end_choices=(front)
_shtab_topout_rebound___units_choices=(metric imperial both)
_shtab_topout_rebound___end_choices=(front)
_shtab_topout_ways___units_choices=(metric imperial both)
_shtab_topout_options___units_choices=(metric imperial both)
_shtab_topout_options___end_choices=(front)
_shtab_topout_help_pos_0_choices=(new curve sag geometry plan compare inflate target landing ride rebound ways options check-procedure help completion serve owner-code backup restore verify export import accessibility architecture backups bench-file command-line documents glossary models planted-faults procedures serving examples)
_shtab_topout_completion_pos_0_choices=(bash zsh fish powershell)
_shtab_topout_pos_0_choices=(new curve sag geometry plan compare inflate target landing ride rebound ways options check-procedure help completion serve owner-code backup restore verify export import)

_shtab_topout_new__h_nargs=0
_shtab_topout_new___help_nargs=0
_shtab_topout_new___overwrite_nargs=0
_shtab_topout_curve_pos_0_nargs='*'
_shtab_topout_curve__h_nargs=0
_shtab_topout_curve___help_nargs=0
_shtab_topout_curve___json_nargs=0
_shtab_topout_curve___csv_nargs=0
_shtab_topout_sag_pos_0_nargs='*'
_shtab_topout_sag__h_nargs=0
_shtab_topout_sag___help_nargs=0
_shtab_topout_sag___json_nargs=0
_shtab_topout_sag___csv_nargs=0
_shtab_topout_geometry_pos_0_nargs='*'
_shtab_topout_geometry__h_nargs=0
_shtab_topout_geometry___help_nargs=0
_shtab_topout_geometry___json_nargs=0
_shtab_topout_geometry___csv_nargs=0
_shtab_topout_plan_pos_0_nargs='*'
_shtab_topout_plan__h_nargs=0
_shtab_topout_plan___help_nargs=0
_shtab_topout_plan___json_nargs=0
_shtab_topout_plan___csv_nargs=0
_shtab_topout_plan___strict_nargs=0
_shtab_topout_compare_pos_0_nargs='*'
_shtab_topout_compare__h_nargs=0
_shtab_topout_compare___help_nargs=0
_shtab_topout_compare___json_nargs=0
_shtab_topout_compare___csv_nargs=0
_shtab_topout_compare___strict_nargs=0
_shtab_topout_inflate_pos_0_nargs='*'
_shtab_topout_inflate__h_nargs=0
_shtab_topout_inflate___help_nargs=0
_shtab_topout_inflate___json_nargs=0
_shtab_topout_inflate___csv_nargs=0
_shtab_topout_target_pos_0_nargs='*'
_shtab_topout_target__h_nargs=0
_shtab_topout_target___help_nargs=0
_shtab_topout_target___json_nargs=0
_shtab_topout_target___csv_nargs=0
_shtab_topout_landing_pos_0_nargs='*'
_shtab_topout_landing__h_nargs=0
_shtab_topout_landing___help_nargs=0
_shtab_topout_landing___json_nargs=0
_shtab_topout_landing___csv_nargs=0
_shtab_topout_ride_pos_0_nargs='*'
_shtab_topout_ride__h_nargs=0
_shtab_topout_ride___help_nargs=0
_shtab_topout_ride___json_nargs=0
_shtab_topout_ride___csv_nargs=0
_shtab_topout_rebound_pos_0_nargs='*'
_shtab_topout_rebound__h_nargs=0
_shtab_topout_rebound___help_nargs=0
_shtab_topout_rebound___json_nargs=0
_shtab_topout_rebound___csv_nargs=0
_shtab_topout_ways_pos_0_nargs='*'
_shtab_topout_ways__h_nargs=0
_shtab_topout_ways___help_nargs=0
_shtab_topout_ways___json_nargs=0
_shtab_topout_ways___csv_nargs=0
_shtab_topout_options_pos_0_nargs='*'
_shtab_topout_options__h_nargs=0
_shtab_topout_options___help_nargs=0
_shtab_topout_options___json_nargs=0
_shtab_topout_options___csv_nargs=0
_shtab_topout_check_procedure__h_nargs=0
_shtab_topout_check_procedure___help_nargs=0
_shtab_topout_check_procedure___json_nargs=0
_shtab_topout_help__h_nargs=0
_shtab_topout_help___help_nargs=0
_shtab_topout_completion__h_nargs=0
_shtab_topout_completion___help_nargs=0
_shtab_topout_serve__h_nargs=0
_shtab_topout_serve___help_nargs=0
_shtab_topout_owner_code__h_nargs=0
_shtab_topout_owner_code___help_nargs=0
_shtab_topout_backup__h_nargs=0
_shtab_topout_backup___help_nargs=0
_shtab_topout_restore__h_nargs=0
_shtab_topout_restore___help_nargs=0
_shtab_topout_verify__h_nargs=0
_shtab_topout_verify___help_nargs=0
_shtab_topout_export__h_nargs=0
_shtab_topout_export___help_nargs=0
_shtab_topout_import__h_nargs=0
_shtab_topout_import___help_nargs=0
_shtab_topout_pos_0_nargs=A...
_shtab_topout__h_nargs=0
_shtab_topout___help_nargs=0
_shtab_topout__V_nargs=0
_shtab_topout___version_nargs=0


# $1=COMP_WORDS[1]
_shtab_compgen_files() {
  compgen -f -- $1  # files
}

# $1=COMP_WORDS[1]
_shtab_compgen_dirs() {
  compgen -d -- $1  # recurse into subdirs
}

# $1=COMP_WORDS[1]
_shtab_replace_nonword() {
  echo "${1//[^[:word:]]/_}"
}

# set default values (called for the initial parser & any subparsers)
_set_parser_defaults() {
  local subparsers_var="${prefix}_subparsers[@]"
  sub_parsers=${!subparsers_var-}

  local current_option_strings_var="${prefix}_option_strings[@]"
  current_option_strings=${!current_option_strings_var}

  completed_positional_actions=0

  _set_new_action "pos_$completed_positional_actions" true
}

# $1=action identifier
# $2=positional action (bool)
# set all identifiers for an action's parameters
_set_new_action() {
  current_action="${prefix}_$(_shtab_replace_nonword $1)"

  local current_action_compgen_var=${current_action}_COMPGEN
  current_action_compgen="${!current_action_compgen_var-}"

  local current_action_choices_var="${current_action}_choices[@]"
  current_action_choices="${!current_action_choices_var-}"

  local current_action_nargs_var="${current_action}_nargs"
  if [ -n "${!current_action_nargs_var-}" ]; then
    current_action_nargs="${!current_action_nargs_var}"
  else
    current_action_nargs=1
  fi

  current_action_args_start_index=$(( $word_index + 1 - $pos_only ))

  current_action_is_positional=$2
}

# Notes:
# `COMPREPLY`: what will be rendered after completion is triggered
# `completing_word`: currently typed word to generate completions for
# `${!var}`: evaluates the content of `var` and expand its content as a variable
_shtab_topout() {
  local completing_word="${COMP_WORDS[COMP_CWORD]}"
  local previous_word="${COMP_WORDS[COMP_CWORD-1]}"
  local completed_positional_actions
  local current_action
  local current_action_args_start_index
  local current_action_choices
  local current_action_compgen
  local current_action_is_positional
  local current_action_nargs
  local current_option_strings
  local sub_parsers
  COMPREPLY=()

  local prefix=_shtab_topout
  local word_index=0
  local pos_only=0 # "--" delimiter not encountered yet
  _set_parser_defaults
  word_index=1

  # determine what arguments are appropriate for the current state
  # of the arg parser
  while [ $word_index -ne $COMP_CWORD ]; do
    local this_word="${COMP_WORDS[$word_index]}"

    if [[ $pos_only = 1 || " $this_word " != " -- " ]]; then
      if [[ -n $sub_parsers && " ${sub_parsers[@]} " == *" $this_word "* ]]; then
        # valid subcommand: add it to the prefix & reset the current action
        prefix="${prefix}_$(_shtab_replace_nonword $this_word)"
        _set_parser_defaults
      fi

      if [[ " ${current_option_strings[@]} " == *" $this_word "* ]]; then
        # a new action should be acquired (due to recognised option string or
        # no more input expected from current action);
        # the next positional action can fill in here
        _set_new_action $this_word false
      fi

      if [[ "$current_action_nargs" != "*" ]] && \
         [[ "$current_action_nargs" != "+" ]] && \
         [[ "$current_action_nargs" != "?" ]] && \
         [[ "$current_action_nargs" != *"..." ]] && \
         (( $word_index + 1 - $current_action_args_start_index - $pos_only >= \
            $current_action_nargs )); then
        $current_action_is_positional && let "completed_positional_actions += 1"
        _set_new_action "pos_$completed_positional_actions" true
      fi
    else
      pos_only=1 # "--" delimiter encountered
    fi

    let "word_index+=1"
  done

  # Generate the completions

  COMPREPLY=()
  if [[ $pos_only = 0 && "$completing_word" == -* &&
        ( -z "$current_action_compgen" || "$current_action_is_positional" = true ) ]]; then
    # optional argument started: use option strings
    while IFS= read -r line; do COMPREPLY+=("$line"); done < <(
      compgen -W "${current_option_strings[*]}" -- "$completing_word")
  elif [[ "$previous_word" =~ ^[0-9\&]*[\<\>]\>?$ ]]; then
    # handle redirection operators
    compopt -o filenames 2>/dev/null || : # bash>=4
    while IFS= read -r line; do COMPREPLY+=("$line"); done < <(compgen -f -- "$completing_word")
  else
    # use choices & compgen
    local action_compgen_word="$completing_word"
    # handle tab-completing in the middle of a line (#248 <- #116)
    [[ -n "$current_action_compgen" && "$completing_word" == -* ]] && action_compgen_word=""
    [ -n "$current_action_compgen" ] && {
      [[ "$current_action_compgen" =~ _(file|dir|glob|FILE|DIR|GLOB)|File|Dir|Glob ]] &&
        compopt -o filenames 2>/dev/null || : # bash>=4
      while IFS= read -r line; do COMPREPLY+=("$line"); done < <(
        "$current_action_compgen" "$action_compgen_word")
    }
    while IFS= read -r line; do COMPREPLY+=("$line"); done < <(
      compgen -W "${current_action_choices[*]}" -- "$completing_word")
  fi

  if [[ ${#COMPREPLY[@]} = 0 ]]; then
    # native fallback matches are not necessarily filenames (e.g. variables)
    compopt +o filenames 2>/dev/null || : # bash>=4
  fi

  return 0
}

complete -o bashdefault -F _shtab_topout topout
