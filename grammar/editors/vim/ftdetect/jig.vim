" Recipes are told by the ending of their names.
au BufNewFile,BufRead *.jig setfiletype jig
