" Colours of the recipe language, edition 1.
" Made from grammar/edition_1.pest: QUADJIG_WRITE_DOCS=1 cargo test --test all docs::editors

if exists('b:current_syntax')
  finish
endif

" What stands below wins.
syn match jigKeyword "[A-Za-z0-9_-]\@<!\%(add\|after\|all\|anew\|antenna\|arm\|at\|attitude\|battery\|bind\|board\|buzzer\|by\|calibrate\|cell\|cells\|centre\|channel\|channels\|craft\|cut\|cycle\|default\|disarmed\|dshot150\|dshot300\|dshot600\|edition\|ends\|expect\|failsafe\|find\|firmware\|flagged\|for\|from\|given\|hand\|hex\|hold\|idle\|in\|inward\|is\|keep\|land\|least\|level\|lihv\|liion\|link\|lipo\|loss\|low\|momentary\|most\|motors\|note\|octo\|of\|off\|on\|one\|oneshot125\|order\|out\|outward\|pause\|pitch\|plus\|port\|position\|positions\|power\|props\|pwm\|quad\|receiver\|recipe\|require\|rest\|rests\|roll\|set\|signal\|spin\|start\|starts\|step\|sticks\|switch\|test\|then\|throttle\|to\|turned\|turning\|unbind\|until\|use\|warn\|with\|within\|x\|yaw\|zero\)[A-Za-z0-9_-]\@!"
syn match jigStatement "^\s*\zs\%(at\|battery\|bind\|board\|calibrate\|channels\|craft\|edition\|expect\|failsafe\|find\|given\|idle\|keep\|note\|order\|pause\|power\|receiver\|recipe\|require\|set\|signal\|switch\|test\|unbind\|use\)[A-Za-z0-9_-]\@!"
syn match jigNumber "[A-Za-z0-9_-]\@<!-\=\d\+\%(\.\d\+\)\=" nextgroup=jigUnit skipwhite
syn match jigUnit "\%(mV\s\+per\s\+cell\|V\s\+per\s\+cell\|µs\|μs\|min\|kHz\|deg\|rpm\|us\|ms\|Hz\|mV\|mA\|s\|V\|A\|%\)[A-Za-z0-9_-]\@!" contained
syn match jigEscape +\\["\\]+ contained
syn region jigString start=+"+ skip=+\\["\\]+ end=+"+ end=+$+ oneline contains=jigEscape
syn match jigComment "#.*$" contains=@Spell

hi def link jigKeyword Keyword
hi def link jigStatement Statement
hi def link jigNumber Number
hi def link jigUnit Type
hi def link jigEscape SpecialChar
hi def link jigString String
hi def link jigComment Comment

let b:current_syntax = 'jig'
