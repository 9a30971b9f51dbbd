;; doorlint in Emacs with eglot (part of Emacs 29 and newer) and yaml-mode: these lines go into init.el.
(with-eval-after-load 'eglot
  (add-to-list 'eglot-server-programs '((yaml-mode yaml-ts-mode) . ("doorlint" "editor"))))

(add-hook 'yaml-mode-hook #'eglot-ensure)
(add-hook 'yaml-ts-mode-hook #'eglot-ensure)
